"""What a drawing says of a cloth that does not hold together."""

from __future__ import annotations

from collections.abc import Iterator

from weavability.checks.facts import weave_counts
from weavability.textiles.layered_weave import LayeredWeave
from weavability.textiles.weave_structure import Structure


def loose_cloth_words(structure: Structure, layers: LayeredWeave | None) -> Iterator[str]:
    """Yield a sentence for each reason why a cloth does not hold together.

    Args:
        structure: Of its weave.
        layers: The layers that are declared in it; those that are meant to be separate may be.
    """
    counts = weave_counts(structure, layers)
    if counts.cloths > counts.cloths_meant:
        yield f"Falls apart: {counts.cloths} cloths that are not bound to one another."
    if counts.layer_parts > 1:
        yield f"Falls apart: {counts.layer_parts} parts, though the layers are declared stitched."
    for loose, threads in ((counts.loose_ends, "ends"), (counts.loose_picks, "picks")):
        if loose:
            yield f"Loose {threads} of the repeat, which never interlace: {loose}."
