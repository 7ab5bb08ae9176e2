"""Names of the trade: published meanings, spellings that are forgiven, and what is explained."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from weavability.textiles.assumptions import Grade, Ledger
from weavability.textiles.basic_weaves import bedford_cord
from weavability.textiles.colouring import colour_repeat
from weavability.textiles.errors import Fault, InputError
from weavability.textiles.notation import notations, parse_weave
from weavability.textiles.trade_names import TradeName, trade_names
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.weave_structure import analyse
from weavability.textiles.weave_symmetry import equivalent, mirrored

REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "weave_names.json").read_text("utf-8")
)
WEAVES = [name for name in trade_names().values() if name.reads_as]
EXPLAINED = [name for name in trade_names().values() if not name.reads_as]


def refusal(text: str) -> Fault:
    with pytest.raises(InputError) as caught:
        parse_weave(text)
    (fault,) = caught.value.faults
    return fault


def whole(name: TradeName, spelling: str) -> str:
    """Write a spelling with what the name leaves to the order."""
    if name.key == "harnesssatin":
        return f"8 {spelling}"
    return spelling if name.is_whole else f"5/2/1/2 {spelling}"


def listed() -> Iterator[tuple[TradeName | None, str]]:
    """Every text that the lists promise to be understood."""
    for name in WEAVES:
        for spelling in name.spellings:
            yield name, whole(name, spelling)
    for notation in notations():
        if notation.name != "crepe":
            yield None, notation.example


LISTED = list(listed())
OTHER_NAMES = {word for name in EXPLAINED for each in name.spellings for word in each.split()}


@pytest.mark.parametrize("case", REFERENCE["names"], ids=lambda case: case["name"])
def test_published_names(case: dict[str, Any]) -> None:
    found = parse_weave(case["name"])
    if "ends" in case:
        assert (found.ends, found.picks) == (case["ends"], case["ends"])
    else:
        published = Weave.from_rows(case["rows"].split("/"))
        assert equivalent(found, published) or (
            "direction" in case.get("note", "") and equivalent(mirrored(found), published)
        )


def test_the_published_bedford_cord_but_for_its_misprint() -> None:
    case = REFERENCE["bedford_cord"]
    published = np.array(
        [
            [int(bit) for bit in f"{int(row, 16):024b}"]
            for row in case["rows_published_in_hexadecimal"]
        ]
    )
    found = parse_weave(f"bedford cord {case['face_ends']}").matrix
    assert found.shape == published.shape
    assert np.argwhere(found != published).tolist() == [
        [case["misprint"]["pick"] - 1, case["misprint"]["end"] - 1]
    ]


@pytest.mark.parametrize("face_ends", [2, 6, 10, 16])
def test_a_bedford_cord_hangs_together_on_its_shafts(face_ends: int) -> None:
    weave = bedford_cord(face_ends)
    assert analyse(weave).hangs_together
    assert weave.ends == 2 * face_ends + 4
    assert analyse(weave).shafts_needed == 6


@pytest.mark.parametrize("face_ends", [0, 3, 501])
def test_a_bedford_cord_has_an_even_number_of_face_ends(face_ends: int) -> None:
    with pytest.raises(InputError):
        bedford_cord(face_ends)


def test_houndstooth_has_the_published_repeat_of_its_colours() -> None:
    case = REFERENCE["houndstooth"]
    weave = parse_weave("houndstooth")
    assert weave.name.startswith(case["weave"])
    ledger = Ledger()
    parse_weave("houndstooth", ledger=ledger)
    assert case["order"] in next(iter(ledger)).reason
    colours = colour_repeat(weave, warp=tuple("AAAABBBB"), weft=tuple("AAAABBBB"))
    assert [colours.ends, colours.picks] == case["repeat"]


def test_every_name_and_alias_listed_is_understood() -> None:
    for name, text in LISTED:
        ledger = Ledger("/weave")
        weave = parse_weave(text, ledger=ledger)
        assert analyse(weave).hangs_together or "cloth" in text, text
        assert parse_weave(weave.name).rows == weave.rows, text
        if name is not None and name.leaves:
            (line,) = ledger
            assert name.leaves in line.reason, text
            assert line.grade is not None, text
            assert line.value == weave.name, text


def test_what_the_order_states_takes_the_place_of_what_the_name_means() -> None:
    assert parse_weave("left-hand denim").name == "3/1 twill S"
    assert parse_weave("2/1 denim RH").name == "2/1 twill Z"
    assert parse_weave("broken denim").name == "3/1 broken twill Z"
    assert parse_weave("herringbone serge 8").name == "2/2 herringbone 8"
    assert parse_weave("duchesse move 5").name == "8-end satin move 5"
    ledger = Ledger()
    parse_weave("2/1 denim S", ledger=ledger)
    assert not list(ledger)


def test_the_weakest_grade_counts() -> None:
    ledger = Ledger("/weave")
    parse_weave("drill", ledger=ledger)
    assert next(iter(ledger)).grade is Grade.SOURCE
    other = Ledger("/weave")
    parse_weave("herringbone serge", ledger=other)
    assert next(iter(other)).grade is Grade.COMMON_PRACTICE


@pytest.mark.parametrize(
    ("text", "canonical"),
    [
        ("3-1 twill", "3/1 twill Z"),
        ("2x2 twill", "2/2 twill Z"),
        ("2 x 2 twill S", "2/2 twill S"),
        ("3 1 twill", "3/1 twill Z"),
        ("two by two twill", "2/2 twill Z"),
        ("LHT 3/1", "3/1 twill S"),
        ("RHT 2/1", "2/1 twill Z"),
        ("3x1 RH twill", "3/1 twill Z"),
        ("lefthand 2-1 twill", "2/1 twill S"),
        ("2x2 basket", "2/2 hopsack"),
        ("8-harness satin", "8-end satin move 3"),
        ("8HS", "8-end satin move 3"),
        ("5 HS", "5-end satin move 2"),
        ("eight-shaft satin", "8-end satin move 3"),
        ("4HS", "1/3 broken twill Z"),
        ("4-harness satin", "1/3 broken twill Z"),
        ("honeycomb 8x8", "honeycomb 8"),
        ("twills 2/1 Z", "2/1 twill Z"),
        ("Natté 2/2", "2/2 hopsack"),
        ("bull denim", "3/1 twill Z"),
        ("fil-a-fil", "plain"),
        ("doeskin", "5-end satin move 2"),
    ],
)
def test_further_spellings(text: str, canonical: str) -> None:
    assert parse_weave(text).name == canonical


@pytest.mark.parametrize(("name"), EXPLAINED, ids=lambda name: name.key)
def test_a_name_that_is_no_weave_is_answered_with_what_is_meant(name: TradeName) -> None:
    for spelling in name.spellings:
        fault = refusal(spelling)
        assert name.answer in fault.message
        assert fault.allowed == name.declare
        assert "Did you mean" not in fault.message


def examples(declared: object) -> Iterator[object]:
    """The weaves in what is offered for a name that is none by itself."""
    if isinstance(declared, dict):
        yield from [declared["weave"]] if "weave" in declared else []
        yield from [declared] if "rows" in declared else []
    elif isinstance(declared, list):
        yield from declared
    elif isinstance(declared, str):
        yield declared


def test_what_is_offered_instead_can_be_woven() -> None:
    offered = [each for name in EXPLAINED for each in examples(name.declare)]
    assert len(offered) >= 6
    for each in offered:
        weave = Weave.from_rows(each["rows"]) if isinstance(each, dict) else parse_weave(str(each))
        assert not analyse(weave).loose_ends, each


def test_pile_is_declared_with_its_own_letter() -> None:
    for key in ("terry", "velvet", "corduroy"):
        declared = trade_names()[key].declare
        assert isinstance(declared, dict)
        layers = declared["layers"]
        assert layers["pile"] == ["P"]
        assert any("P" in layers[threads] for threads in ("ends", "picks"))


def test_a_name_without_its_fraction_says_what_is_open() -> None:
    fault = refusal("whipcord")
    assert "fraction must be stated" in fault.message
    assert fault.allowed
    assert parse_weave("5/2/1/2 whipcord").name == "5/2/1/2 steep twill Z move 2"


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("2/2 twil Z", "2/2 twill Z"),
        ("denm S", "3/1 twill S"),
        ("8-harness sattin", "8-end satin move 3"),
        ("bedfrd cord 6", "bedford cord 6"),
        ("cavalry twil 5/2/1/2 S", "5/2/1/2 steep twill S move 2"),
        ("double cloth plin + 2/2 twill S", "double cloth plain + 2/2 twill S"),
        ("double clth plain + plain", "double cloth plain + plain"),
        ("2/2 twil lft", "2/2 twill S"),
        ("log ccabin", "plain"),
    ],
)
def test_a_correction_keeps_the_rest(text: str, meant: str) -> None:
    fault = refusal(text)
    assert f'"{meant}"' in fault.message
    assert fault.allowed == [meant]


@pytest.mark.parametrize(
    ("text", "word"),
    [
        *(("plain ok", "ok"), ("plain lot 5", "lot"), ("2/2 twill red", "red")),
        *(("2/2 twill no", "no"), ("plain cm", "cm"), ("2/2 twill or Z", "or")),
        *(("2/2 herringbone 8 an 4", "an"), ("5-end satin at 2", "at")),
        *(("2/2 twill at Z", "at"), ("2/2 twill ll", "ll"), ("2/2 twill in Z", "in")),
    ],
)
def test_a_short_word_is_no_name_that_is_misspelt(text: str, word: str) -> None:
    fault = refusal(text)
    assert f"'{word}' is not known." in fault.message
    assert "Did you mean" not in fault.message


READ = ("poplin", "8HS")


@pytest.mark.parametrize(
    ("text", "never"),
    [
        *(("velvet", "left"), ("poplin", "point"), ("lino", "plain"), ("8HS", "'s'")),
        *(("vlvet", "left"), ("loft", "left")),
    ],
)
def test_a_wrong_guess_is_not_made(text: str, never: str) -> None:
    answer = parse_weave(text).name if text in READ else refusal(text).message
    assert f"Did you mean '{never}'" not in answer
    assert f'Did you mean "{never}"' not in answer


@pytest.mark.parametrize("text", ["denim drill", "denim 8-end satin", "poplin twill 2/2"])
def test_two_weaves_at_once_are_refused(text: str) -> None:
    assert "2 weaves" in refusal(text).message


LETTERS = "abcdefghijklmnopqrstuvwxyz"
WORDS = {word for _, text in LISTED for word in re.findall(r"[a-z]+", text.lower())}
LONG = [(text, word) for _, text in LISTED for word in re.finditer(r"[A-Za-z]{4,}", text)]


@st.composite
def misspelt(draw: st.DrawFn) -> tuple[str, str, str]:
    """A listed text, the same with one letter of one of its words wrong, and that word."""
    text, word = draw(st.sampled_from(LONG))
    start, stop = word.span()
    at = draw(st.integers(start, stop - 1))
    before, here, after = text[:at], text[at], text[at + 1 :]
    wrong = draw(
        st.sampled_from((after, here + here + after))
        | st.sampled_from(LETTERS).map(lambda letter: letter + after)
        | st.sampled_from(LETTERS).map(lambda letter: letter + here + after)
    )
    return text, before + wrong, (before + wrong)[start : start + len(wrong) + at - start]


@given(misspelt())
def test_one_wrong_letter_is_forgiven_or_corrected_and_the_rest_is_kept(
    case: tuple[str, str, str],
) -> None:
    text, wrong, tail = case
    meant = parse_weave(text).name
    word = tail.split()[0].lower() if tail.split() else ""
    assume(word not in WORDS and word not in OTHER_NAMES)
    try:
        read = parse_weave(wrong).name
    except InputError as error:
        (fault,) = error.faults
        assert isinstance(fault.allowed, list), (wrong, fault.message)
        if "is not known" in fault.message:  # of a word so short no name is guessed
            assert len(word) < 4, (wrong, fault.message)
            return
        read = parse_weave(fault.allowed[0]).name
    if len(word) > 4:
        assert read == meant, (text, wrong)
    # Four letters may be as near to another name; what is stated beside them stays.
    assert numbers(text) <= numbers(read) or read == meant, (text, wrong)


def numbers(text: str) -> set[str]:
    return set(re.findall(r"\d+", text))


@pytest.mark.parametrize(
    "text",
    [
        "twil sattin herringbon hopsck",
        "denm " * 15,
        "qx " * 60,
        "double clth " * 16,
        "a" * 200,
    ],
)
def test_a_text_of_misspelt_words_is_refused(text: str) -> None:
    assert len(refusal(text).message) < 1_500


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("plain wave", 'which is "plain"?'),
        ("gabardine 63", "State the fraction of the steep twill"),
        ("Leinwand", "in English: plain"),
        ("Atlas 5", "a satin with its ends and its move"),
        ("moleskin", "it has no pile weft"),
        ("sponge weave", "name a honeycomb"),
        ("rip-stop", "the name does not say where"),
        ("2/2 twill X", "'x' is not known"),
        ("seat belt", "several layers over one system of picks"),
    ],
)
def test_a_name_that_mills_write_is_answered_with_what_to_write(text: str, words: str) -> None:
    assert words in refusal(text).message
