"""Wool is spun carded or combed, as woollen or worsted, and its count often says as which."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from weavability.textiles.assumptions import Grade, Ledger
from weavability.textiles.designation_parts import Designation
from weavability.textiles.fibres import Fibre, find_fibre
from weavability.textiles.sentences import say

WOOL: Final = "wool"
WORSTED: Final = "worsted"
FINEST_WOOLLEN_TEX: Final = 30.0
"""Finest single of carded wool, about Nm 33; a finer one is combed. Common practice, no source."""

_WOOLLEN: Final = re.compile(r"\bwooll?en\b", re.IGNORECASE)


def wool_as_spun(name: str | None, fibre: Fibre, read: Designation, ledger: Ledger) -> Fibre:
    """Return a fibre with its wool combed if its single is too fine for woollen yarn.

    What is called woollen, or counted so, stays as it is.

    Args:
        name: The fibre as stated.
        fibre: What that means.
        read: The count of the yarn.
        ledger: Takes that the wool is worsted; pointers are relative to the yarn.
    """
    is_woollen = read.fibre == WOOL or _WOOLLEN.search(name or "")
    if is_woollen or not fibre.share_pct(WOOL) or fibre.share_pct(WORSTED):
        return fibre
    if read.single_tex >= FINEST_WOOLLEN_TEX:
        return fibre
    combed = spun_worsted(fibre)
    found = ledger.note(
        "/fibre",
        combed.key,
        unit=None,
        reason=say(
            "assumption.fibre.worsted",
            "a single of {single_tex:.3g} tex is too fine for woollen yarn, which is spun down to "
            "about {finest_tex:g} tex; [COMMON-PRACTICE]",
            single_tex=read.single_tex,
            finest_tex=FINEST_WOOLLEN_TEX,
        ),
        grade=Grade.COMMON_PRACTICE,
        other=fibre.key,
    )
    return combed if found == combed.key else fibre


def spun_worsted(fibre: Fibre) -> Fibre:
    """Return a fibre or blend with its wool combed.

    >>> spun_worsted(find_fibre("55/45 polyester/wool")).key
    'polyester 55 worsted 45'
    """
    words = (WORSTED if word == WOOL else word for word in fibre.key.split())
    found = find_fibre(" ".join(words))
    styled = found if fibre.style is None else found.in_style(fibre.style)
    return replace(styled, shares_assumed=fibre.shares_assumed, fibre_assumed=fibre.fibre_assumed)
