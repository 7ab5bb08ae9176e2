"""Which levers move the number of each check: what is tried for its remedies, likeliest first.

A check that is not listed has no remedy but another loom. How to add one is in ``DEVELOPERS.md``.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from weavability.answers.design_levers import (
    AS_WIDE_AS_THE_PICTURE,
    AS_WIDE_AS_THE_TIE,
    BOUND_BY_DOTS,
    CAST_OUT,
    FIRMER_EFFECT,
    JOINING_EFFECT,
    LAID_OUT_OTHERWISE,
    PICKS_IN_PROPORTION,
)
from weavability.answers.draft_levers import OPEN_DRAFT, STRAIGHT_DRAFT
from weavability.answers.lever_choices import (
    BINDING_SELVEDGE,
    COARSER_WARP,
    COARSER_WEFT,
    FINER_WARP,
    FINER_WEFT,
    FOLDED_WARP,
    FOLDED_WEFT,
    LESS_PILE,
    MORE_PILE,
    ONE_BEAM,
    ONE_SELECTOR,
    SECOND_BEAM,
    SELVEDGE_AS_GROUND,
    SHORTER_PIECES,
    SIZE,
    SPLIT_WARP,
    STABILISED,
    TWO_FEEDERS,
)
from weavability.answers.levers import (
    CLOSER_SETTS,
    FEWER_ENDS,
    FEWER_IN_DENT,
    FEWER_IN_EDGE_DENT,
    FEWER_PANELS,
    FEWER_PICKS,
    FEWER_SELVEDGE_ENDS,
    MORE_ENDS,
    MORE_IN_DENT,
    MORE_PANELS,
    MORE_PICKS,
    NARROWER,
    SETTS,
    SHORTER,
    SLOWER,
    WIDER,
    Lever,
)
from weavability.answers.reed_levers import (
    EVEN_DENTING,
    OUTER_ENDS,
    REED_OF_SETT,
    SPLIT_REMAINDER,
    STOCK_REED,
    WHOLE_REPEATS,
)
from weavability.answers.weave_levers import (
    FIRMER_WEAVE,
    LESS_RAISED,
    LOOSER_WEAVE,
    OTHER_WEAVE,
    SMALLER_WEAVE,
    STATED_LAYERS,
)
from weavability.checks.codes import CheckCode

FINER: Final = (FINER_WEFT, FINER_WARP)
SHORTER_FLOATS: Final = (FIRMER_EFFECT, MORE_PICKS, MORE_ENDS)
COARSER: Final = (COARSER_WEFT, COARSER_WARP)
PILE: Final = (LESS_PILE, MORE_PILE)

LEVERS: Final[Mapping[CheckCode, tuple[Lever, ...]]] = MappingProxyType(
    {
        CheckCode.WIDTH_REED_SPACE: (REED_OF_SETT, FEWER_PANELS, OUTER_ENDS, NARROWER),
        CheckCode.WIDTH_BELOW_MINIMUM: (REED_OF_SETT, MORE_PANELS, WIDER),
        CheckCode.WIDTH_PANELS: (FEWER_PANELS,),
        CheckCode.REED_NOT_IN_STOCK: (
            *(STOCK_REED, EVEN_DENTING),
            *(FEWER_IN_DENT, MORE_IN_DENT),
        ),
        CheckCode.REED_SETT_MISMATCH: (STOCK_REED, REED_OF_SETT, FEWER_ENDS, MORE_ENDS),
        CheckCode.REED_AIR_SPACE: (
            *(EVEN_DENTING, FEWER_IN_DENT, MORE_IN_DENT),
            *(FEWER_ENDS, FINER_WARP),
        ),
        CheckCode.REED_ENDS_PER_DENT: (EVEN_DENTING, FEWER_IN_DENT),
        CheckCode.REED_COUNT: (EVEN_DENTING, FEWER_IN_DENT, MORE_IN_DENT, REED_OF_SETT),
        CheckCode.SHEDDING_SHAFTS: (
            *(STRAIGHT_DRAFT, OPEN_DRAFT),
            *(SELVEDGE_AS_GROUND, SMALLER_WEAVE),
        ),
        CheckCode.SHEDDING_HEALD_CROWDING: (STRAIGHT_DRAFT, OPEN_DRAFT, FEWER_ENDS),
        CheckCode.SHEDDING_HEALDS_PER_SHAFT: (
            STRAIGHT_DRAFT,
            OPEN_DRAFT,
            OUTER_ENDS,
            FEWER_PANELS,
            FEWER_ENDS,
            NARROWER,
        ),
        CheckCode.SHEDDING_REPEAT_PICKS: (SMALLER_WEAVE,),
        CheckCode.SHEDDING_UNEVEN_LIFT: (LESS_RAISED,),
        CheckCode.SHEDDING_HOOKS: (
            AS_WIDE_AS_THE_TIE,
            OUTER_ENDS,
            FEWER_PANELS,
            FEWER_ENDS,
            NARROWER,
            SMALLER_WEAVE,
        ),
        CheckCode.DESIGN_PROPORTION: (AS_WIDE_AS_THE_TIE, PICKS_IN_PROPORTION),
        CheckCode.DESIGN_GROUND_BREAK: (CAST_OUT, JOINING_EFFECT),
        CheckCode.DESIGN_TIE_WIDTH: (LAID_OUT_OTHERWISE, AS_WIDE_AS_THE_PICTURE),
        CheckCode.DESIGN_EFFECT_UNBOUND: SHORTER_FLOATS,
        CheckCode.DESIGN_LONG_FLOAT: (BOUND_BY_DOTS, *SHORTER_FLOATS),
        CheckCode.DESIGN_FLOAT_LEFT: SHORTER_FLOATS,
        CheckCode.DESIGN_TURN_FLOAT: (BOUND_BY_DOTS,),
        CheckCode.SHEDDING_HARNESS_DENSITY: (
            REED_OF_SETT,
            FEWER_PANELS,
            NARROWER,
            FEWER_ENDS,
            MORE_ENDS,
            WIDER,
        ),
        CheckCode.WEAVE_LONG_FLOAT: (MORE_PICKS, MORE_ENDS, FIRMER_WEAVE),
        CheckCode.WEAVE_DRAFT_MISMATCH: (STRAIGHT_DRAFT, OPEN_DRAFT),
        CheckCode.SELVEDGE_UNBOUND: (BINDING_SELVEDGE,),
        CheckCode.SELVEDGE_TIGHT: (FEWER_IN_EDGE_DENT, BINDING_SELVEDGE),
        CheckCode.SELVEDGE_WIDE: (FEWER_SELVEDGE_ENDS,),
        CheckCode.SETT_JAMMED: (*SETTS, FINER_WEFT, FINER_WARP, LOOSER_WEAVE),
        CheckCode.SETT_TIGHT: (*SETTS, FINER_WEFT, FINER_WARP, LOOSER_WEAVE),
        CheckCode.WEAVE_FALLS_APART: (STATED_LAYERS,),
        CheckCode.SETT_NOT_JUDGED: (STATED_LAYERS, *SETTS, FINER_WEFT, FINER_WARP),
        CheckCode.SETT_OPEN: (*CLOSER_SETTS, STABILISED, COARSER_WEFT, COARSER_WARP, FIRMER_WEAVE),
        CheckCode.SETT_WARP_CROWDING: (FEWER_ENDS, FINER_WARP),
        CheckCode.WEFT_SELECTORS: (ONE_SELECTOR,),
        CheckCode.WEFT_LINEAR_DENSITY: (FINER_WEFT, COARSER_WEFT),
        CheckCode.WEFT_MIXED_COUNTS: (FINER_WEFT, COARSER_WEFT),
        CheckCode.WEFT_STRENGTH: (SLOWER, FEWER_PANELS, FOLDED_WEFT, COARSER_WEFT, NARROWER),
        CheckCode.WEFT_FEEDER_SPEED: (TWO_FEEDERS, SLOWER, FEWER_PANELS, NARROWER),
        CheckCode.INSERTION_RATE_EXCEEDED: (SLOWER, FEWER_PANELS, NARROWER),
        CheckCode.INSERTION_SPEED_EXCEEDED: (SLOWER, FEWER_PANELS, NARROWER),
        CheckCode.INSERTION_SHEDDING_SPEED: (SLOWER,),
        CheckCode.INSERTION_WEFT_SPEED: (
            SLOWER,
            FEWER_PANELS,
            FOLDED_WEFT,
            COARSER_WEFT,
            NARROWER,
        ),
        CheckCode.INSERTION_CRAWL: (FEWER_PANELS, FOLDED_WEFT, COARSER_WEFT, NARROWER),
        CheckCode.INSERTION_WEFT_VELOCITY: (SLOWER, FEWER_PANELS, NARROWER),
        CheckCode.INSERTION_ACCELERATION: (SLOWER, FEWER_PANELS, NARROWER),
        CheckCode.PICKS_OUT_OF_RANGE: (FEWER_PICKS, MORE_PICKS),
        CheckCode.WARP_STRENGTH: (FOLDED_WARP, COARSER_WARP),
        CheckCode.WARP_BEAM_CAPACITY: (SHORTER, FEWER_PANELS, FEWER_ENDS, NARROWER, FINER_WARP),
        CheckCode.WARP_BEAM_WIDTH: (FEWER_PANELS, NARROWER),
        CheckCode.WARP_YARN_VARIETY: (SECOND_BEAM,),
        CheckCode.WARP_SECOND_WARP: (ONE_BEAM, SECOND_BEAM, SPLIT_WARP, OTHER_WEAVE),
        CheckCode.YARN_ELASTANE: (SECOND_BEAM,),
        CheckCode.SELVEDGE_HOOKS: (FEWER_SELVEDGE_ENDS,),
        CheckCode.WARP_UNSIZED: (SIZE, FOLDED_WARP),
        CheckCode.WARP_UNTWISTED: (SIZE,),
        CheckCode.REQUIREMENT_MASS: (*PILE, *SETTS, *CLOSER_SETTS, *FINER, *COARSER),
        CheckCode.REQUIREMENT_MASS_PER_M: (
            *PILE,
            *SETTS,
            *CLOSER_SETTS,
            NARROWER,
            WIDER,
            *FINER,
            *COARSER,
        ),
        CheckCode.REQUIREMENT_WIDTH: (NARROWER, WIDER, FEWER_SELVEDGE_ENDS),
        CheckCode.REQUIREMENT_ENDS: (FEWER_ENDS, MORE_ENDS),
        CheckCode.REQUIREMENT_PICKS: (FEWER_PICKS, MORE_PICKS),
        CheckCode.REQUIREMENT_THICKNESS: (*FINER, *COARSER),
        CheckCode.REQUIREMENT_OPEN_AREA: (*SETTS, *CLOSER_SETTS, *FINER, *COARSER),
        CheckCode.REQUIREMENT_COVER: (*SETTS, *CLOSER_SETTS, *FINER, *COARSER),
        CheckCode.REQUIREMENT_FIBRE: (*PILE, *SETTS, *CLOSER_SETTS, *FINER, *COARSER),
        CheckCode.ORDER_PIECE_LENGTH: (SHORTER_PIECES,),
        CheckCode.COLOUR_WARP_REMAINDER: (WHOLE_REPEATS, SPLIT_REMAINDER),
    }
)
