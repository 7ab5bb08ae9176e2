"""The machine: looms as stated and resolved, reed, drawing-in, insertion, speed, warp, change-over.

Wefts by what is known of them, each made from the one before:

=================  ============================================================================
``WeftYarn``       figures on which the tension of a yarn depends (``weft_tension``)
``LoadedWeft``     a yarn of the cloth and the insertion of one loom (``speed``)
``WeftShare``      a loaded weft with its key in the order and its share of the picks (``speed``)
``WeftAtSpeed``    the same at the speed of the loom, with tension and feeder speed (``fit``)
``WeftNumbers``    what the order says of a weft yarn, in numbers or columns (``order_numbers``)
``StrainedWeft``   the same on the looms of a column, as its tension needs it (``speed``)
``WeftOnLoom``     the answer about one weft (``answers.insertion_rate``)
=================  ============================================================================
"""
