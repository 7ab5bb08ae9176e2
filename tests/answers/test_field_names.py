"""The words of fields: one table for sentences, drawings, pages and client."""

from __future__ import annotations

import pytest

from weavability.answers.field_names import field_in_words, in_sentence, named_in_words
from weavability.looms.loom_bounds import LOOM_BOUNDS
from weavability.service.pages.assumed_values import assumed_rows
from weavability.service.pages.order_fields import form_field, pointer_in_words
from weavability.service.pages.wording import linked
from weavability.textiles.assumptions import Assumption, Grade
from weavability.textiles.bounds import CONSTRUCTION_BOUNDS, YARN_BOUNDS
from weavability.textiles.construction import INCH_FORMS

POINTERS = [
    *(f"/loom{each}" for each in LOOM_BOUNDS),
    *(f"/construction{each}" for each in CONSTRUCTION_BOUNDS),
    *(f"/construction{inch}" for inch, _ in INCH_FORMS.values()),
    *(f"/construction/weft/yarns/A/{name}" for name in YARN_BOUNDS),
]
SHORT = {"cv", "pct", "yd", "deg", "mm", "tex", "min", "max", "cn", "m", "g", "kw", "m3"}


@pytest.mark.parametrize("pointer", POINTERS)
def test_no_field_is_called_by_a_unit_or_a_short_form(pointer: str) -> None:
    words = field_in_words(pointer).removesuffix(" of the loom").removesuffix(" of weft yarn A")
    assert not set(words.split()) & SHORT
    assert not words.endswith(" in")
    assert "_" not in words


def test_form_report_and_sentences_call_a_field_the_same() -> None:
    pointer = "/construction/weft/yarns/A/strength_cv_pct"
    words = "variation of strength of weft yarn A"
    assert field_in_words(pointer) == words
    assert pointer_in_words(pointer) == words
    assert str(linked(f"It rests on {pointer}.")) == f"It rests on {words}."
    assert in_sentence(f"It rests on {pointer}.") == f"It rests on {words}."
    assert form_field("weft_strength_cv_pct_A").label == "Variation of strength"
    line = Assumption(
        pointer=pointer,
        value=12.0,
        unit="%",
        reason="usual",
        reason_key="",
        reason_values={},
        grade=Grade.SOURCE,
        band=None,
    )
    assert next(assumed_rows([line])).words == "Variation of strength"


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("twist_per_m", "twist"),
        ("folding_take_up_pct", "take-up in folding"),
        ("mass_change_pct", "change of mass in finishing"),
    ],
)
def test_a_bare_name_in_a_sentence_has_the_same_words(name: str, words: str) -> None:
    assert named_in_words(name) == words
    assert str(linked(f"State {name}.")) == f"State {words}."
