"""Layers of a cloth: what a declaration says, what contradicts it, and what is bad input."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from builders import weave
from hypothesis import given
from hypothesis import strategies as st

from weavability.textiles.basic_weaves import multiple_cloth
from weavability.textiles.construction import Joined, Layers
from weavability.textiles.errors import InputError
from weavability.textiles.joint_threads import joint_shares
from weavability.textiles.layer_declaration import MOST_JOINT_THREADS, MOST_LAYERS, layer_orders
from weavability.textiles.layered_weave import Clash, LayeredWeave, LayerWeave, layered_weave
from weavability.textiles.notation import parse_weave
from weavability.textiles.thread_order import parse_order
from weavability.textiles.weave_matrix import Weave
from weavability.textiles.weave_structure import analyse

PLAIN = parse_weave("plain")
TWILL = parse_weave("2/2 twill Z")


def declared(
    ends: str, picks: str, joined: Joined | None = None, *pile: str, of: Weave
) -> LayeredWeave:
    return layered_weave(
        of.reduced(), Layers(ends=ends, picks=picks, joined=joined, pile=tuple(pile))
    )


def double(joined: Joined, *stitches: tuple[int, int], cloths: tuple[Weave, ...] = ()) -> Any:
    of = multiple_cloth(cloths or (PLAIN, PLAIN), stitches=stitches)
    return declared("F B", "F B", joined, of=of)


def weave_of(layer: LayerWeave) -> Weave:
    assert layer.weave is not None
    return layer.weave


NAMES = ("plain", "2/1 twill Z", "3/1 twill S", "2/2 hopsack", "5-end satin move 2", "2/2 warp rib")
cloths = st.builds(
    lambda name, picks, ends: Weave(
        matrix=np.roll(parse_weave(name).matrix, (picks, ends), axis=(0, 1))
    ),
    st.sampled_from(NAMES),
    st.integers(0, 4),
    st.integers(0, 4),
)
"""Weaves that hang together, begun anywhere."""


def faults(**stated: Any) -> dict[str, str]:
    of = stated.pop("of", PLAIN)
    with pytest.raises(InputError) as error:
        layered_weave(of, Layers(**stated))
    return {fault.pointer: fault.message for fault in error.value.faults}


class TestLayers:
    @given(cloths, cloths)
    def test_two_cloths_laid_over_one_another_are_found_again(
        self, face: Weave, back: Weave
    ) -> None:
        found = double(Joined.SEPARATE, cloths=(face, back))
        assert [layer.letter for layer in found.layers] == ["F", "B"]
        assert [weave_of(layer) for layer in found.layers] == [face.reduced(), back.reduced()]
        assert found.contradiction is None
        assert found.cloths == analyse(multiple_cloth([face, back])).layer_count == 2

    @given(cloths, cloths)
    def test_the_letters_do_not_say_which_layer_is_the_face(self, face: Weave, back: Weave) -> None:
        of = multiple_cloth([face, back])
        found = declared("X A", "X A", Joined.SEPARATE, of=of)
        turned = Weave(matrix=1 - of.matrix)
        assert [layer.letter for layer in found.layers] == ["X", "A"]
        back_up = declared("X A", "X A", Joined.SEPARATE, of=turned)
        assert [layer.letter for layer in back_up.layers] == ["A", "X"]

    def test_three_cloths_are_sorted_from_the_face(self) -> None:
        of = multiple_cloth([PLAIN, TWILL, PLAIN])
        found = declared("F M B", "F M B", Joined.SEPARATE, of=of)
        assert [layer.letter for layer in found.layers] == ["F", "M", "B"]
        assert weave_of(found.layers[1]) == TWILL
        assert (found.cloths, found.contradiction) == (3, None)

    def test_the_joint_repeat_is_that_of_weave_and_layers(self) -> None:
        found = declared("2F 1B", "F", Joined.STITCHED, of=TWILL)
        assert (found.joint_ends, found.joint_picks) == (12, 4)

    def test_a_backing_is_set_with_the_ends_that_bind_it(self) -> None:
        # Face picks in 2/2 twill, back picks under seven ends in eight.
        face = np.tile(TWILL.matrix, (2, 2))
        back = 1 - parse_weave("8-end satin move 3").matrix
        rows = np.empty((16, 8), dtype=np.uint8)
        rows[0::2], rows[1::2] = face, 1 - back
        found = declared("F", "F B", Joined.STITCHED, of=Weave(matrix=rows))
        face_layer, backing = found.layers
        assert (face_layer.is_cloth, backing.is_cloth) == (True, False)
        assert backing.set_with_ends == ("F",)
        assert backing.structure is not None
        assert backing.structure.mean_float_of_picks == 4.0
        assert found.contradiction is None
        assert found.stitches == 8

    def test_a_wadding_is_set_with_nothing(self) -> None:
        # Picks W lie between two stitched plain cloths: below every face end, above every back end.
        double_plain = multiple_cloth([PLAIN, PLAIN], stitches=[(1, 2)]).matrix
        rows = np.vstack([double_plain[:2], [[1, 0, 1, 0]], double_plain[2:], [[1, 0, 1, 0]]])
        found = declared("F B", "F B W", Joined.STITCHED, of=Weave(matrix=rows.astype(np.uint8)))
        wadding = next(layer for layer in found.layers if layer.letter == "W")
        assert [layer.letter for layer in found.layers] == ["F", "W", "B"]
        assert (wadding.weave, wadding.set_with_ends) == (None, ())
        assert (found.unbound_parts, found.contradiction) == (1, None)

    def test_terry_has_a_ground_and_pile(self) -> None:
        found = declared("G P", "G", None, "P", of=weave("1000", "1101", "0111"))
        ground, pile = found.layers
        assert weave_of(ground).rows == ("10", "10", "01")
        assert (ground.is_pile, pile.is_pile) == (False, True)
        assert pile.structure is not None
        assert pile.structure.mean_float_of_ends == 1.5
        assert (found.joined, found.stitches, found.contradiction) == (None, None, None)

    @given(st.integers(1, 40), st.integers(1, 40), st.data())
    def test_joint_shares_count_the_joint_repeat(self, a: int, b: int, data: st.DataObject) -> None:
        first = "A" + data.draw(st.text("AB", min_size=a - 1, max_size=a - 1))
        second = "F" + data.draw(st.text("FG", min_size=b - 1, max_size=b - 1))
        one = parse_order(" ".join(first), known=set(first))
        other = parse_order(" ".join(second), known=set(second))
        total = a * b
        counted: dict[tuple[str, str], int] = {}
        for place in range(total):
            pair = (first[place % a], second[place % b])
            counted[pair] = counted.get(pair, 0) + 1
        expected = {pair: count / total for pair, count in counted.items()}
        assert joint_shares(one, other) == pytest.approx(expected)


class TestIntegrity:
    def test_stitches_are_counted(self) -> None:
        found = double(Joined.STITCHED, (1, 2), (2, 3), cloths=(TWILL, TWILL))
        assert found.stitches == 2
        assert (found.unbound_parts, found.cloths, found.contradiction) == (1, 1, None)

    def test_stitched_layers_without_a_stitch_are_several_parts(self) -> None:
        found = double(Joined.STITCHED)
        assert (found.stitches, found.unbound_parts, found.cloths) == (0, 2, 2)

    @given(cloths, cloths, st.data())
    def test_stitched_layers_hang_together_as_the_weave_does(
        self, face: Weave, back: Weave, data: st.DataObject
    ) -> None:
        of = multiple_cloth([face, back])
        mixed = [
            (pick + 1, end + 1)
            for pick in range(of.picks)
            for end in range(of.ends)
            if pick % 2 != end % 2
        ]
        stitches = data.draw(st.lists(st.sampled_from(mixed), max_size=2, unique=True))
        found = double(Joined.STITCHED, *stitches, cloths=(face, back))
        whole = analyse(multiple_cloth([face, back], stitches=stitches))
        assert (found.unbound_parts == 1) == whole.hangs_together

    def test_the_first_crossing_that_contradicts_separate_layers_is_named(self) -> None:
        found = double(Joined.SEPARATE, (6, 3), (4, 5), cloths=(TWILL, TWILL)).contradiction
        assert found is not None
        assert (found.clash, found.layer, found.other) == (Clash.CROSSING, "F", "B")
        assert (found.pick, found.end, found.crossings) == (4, 5, 2)
        assert found.share_pct == pytest.approx(100 * 2 / 32)

    def test_layers_that_are_both_above_and_below_are_not_stitched(self) -> None:
        # Every second end and pick of 2/2 twill weave plain, but neither plain lies above.
        found = declared("F B", "F B", Joined.STITCHED, of=TWILL).contradiction
        assert found is not None
        assert (found.clash, found.share_pct) == (Clash.ORDER, 50.0)

    @pytest.mark.parametrize(("stitches", "clash"), [(8, None), (9, Clash.ORDER)])
    def test_a_quarter_of_the_crossings_may_be_stitches(
        self, stitches: int, clash: Clash | None
    ) -> None:
        mixed = [(pick, end) for pick in range(1, 9) for end in range(1, 9) if (pick + end) % 2]
        found = double(Joined.STITCHED, *mixed[::3][:stitches], cloths=(TWILL, TWILL))
        assert found.stitches == stitches
        assert (found.contradiction and found.contradiction.clash) == clash

    def test_layers_that_change_places_interchange(self) -> None:
        # Four threads of each layer in one square, then the other layer on top.
        up = np.tile(multiple_cloth([PLAIN, PLAIN]).matrix, (2, 2))
        swapped = np.roll(up, (1, 1), axis=(0, 1))
        of = Weave(matrix=np.hstack([up, swapped]))
        found = declared("F B", "F B", Joined.INTERCHANGING, of=of)
        assert found.contradiction is None
        assert (found.cloths, found.stitches) == (1, None)
        separate = declared("F B", "F B", Joined.SEPARATE, of=of).contradiction
        assert separate is not None

    def test_layers_that_never_change_places_do_not_interchange(self) -> None:
        found = double(Joined.INTERCHANGING).contradiction
        assert found is not None
        assert (found.clash, found.layer, found.other) == (Clash.NEVER, "F", "B")

    def test_layers_that_change_places_everywhere_have_no_place(self) -> None:
        found = declared("F B", "F B", Joined.INTERCHANGING, of=TWILL).contradiction
        assert found is not None
        assert (found.clash, found.share_pct) == (Clash.MIXED, 100.0)

    def test_the_threads_of_a_layer_must_hold_one_another(self) -> None:
        found = declared("F B", "F B", Joined.STITCHED, of=PLAIN).contradiction
        assert found is not None
        assert (found.clash, found.layer, found.pick, found.end) == (Clash.LAYER, "F", 1, 1)

    @pytest.mark.parametrize(
        ("pile_pick", "clash"), [("000001", None), ("001001", Clash.PILE), ("010101", Clash.PILE)]
    )
    def test_pile_picks_float(self, pile_pick: str, clash: Clash | None) -> None:
        of = weave("101010", pile_pick, "010101", pile_pick)
        found = declared("G", "G P", None, "P", of=of).contradiction
        assert (found and found.clash) == clash


class TestBadInput:
    def test_a_letter_of_pile_must_be_a_layer_and_named_once(self) -> None:
        assert faults(ends="G P", picks="G", pile=("Q",)) == {
            "/pile/0": "No thread belongs to a layer 'Q': pile names layers of ends or picks."
        }
        assert faults(ends="G P", picks="G", pile=("P", "P")) == {
            "/pile/1": "Layer P is named twice."
        }

    def test_a_cloth_needs_a_layer_with_ends_and_picks(self) -> None:
        assert list(faults(ends="F", picks="B", joined=Joined.STITCHED)) == ["/picks"]
        assert list(faults(ends="G P", picks="G", pile=("G", "P"))) == ["/picks"]

    def test_joined_is_stated_for_several_layers_and_for_no_other(self) -> None:
        assert list(faults(ends="F B", picks="F B")) == ["/joined"]
        terry: dict[str, Any] = {"ends": "G P", "picks": "G", "pile": ("P",)}
        assert list(faults(**terry, joined=Joined.SEPARATE)) == ["/joined"]
        # Pile is bound in the ground: that may be said, and says nothing more.
        three_pick = weave("1000", "1101", "0111")
        said = layered_weave(three_pick, Layers(**terry, joined=Joined.STITCHED))
        assert (said.joined, said.unbound_parts) == (None, 1)

    @pytest.mark.parametrize("text", ["", "2", "F)", "3(F B", "F 1FB", "F+B", "0F"])
    def test_an_order_of_layers_must_be_readable(self, text: str) -> None:
        assert list(faults(ends=text, picks="F B", joined=Joined.STITCHED)) == ["/ends"]
        assert list(faults(ends="F B", picks=text, joined=Joined.STITCHED)) == ["/picks"]

    def test_messages_speak_of_layers(self) -> None:
        found = faults(ends="2(", picks="FB", joined=Joined.STITCHED)
        assert "yarn" not in found["/ends"]
        assert found["/picks"].startswith("A layer is named by one letter; 'FB' is none.")

    def test_letters_that_differ_in_case_alone_are_mistyped(self) -> None:
        assert faults(ends="1F 1B", picks="1F 1b", joined=Joined.SEPARATE) == {
            "/picks": "Layers B and b differ in their case alone: give each layer one letter, for "
            "its ends and its picks."
        }
        assert list(faults(ends="1F 1f", picks="F", joined=Joined.STITCHED)) == ["/ends"]

    def test_a_repeat_is_bounded(self) -> None:
        most = MOST_JOINT_THREADS
        assert layered_weave(PLAIN, Layers(ends=f"{most}F", picks="F")).joint_ends == most
        assert list(faults(ends=f"{most + 1}F", picks="F")) == ["/ends"]
        # 4095 threads alone, 8190 together with plain; both orders are judged.
        assert list(faults(ends=f"{most - 1}F", picks=f"{most - 1}F")) == ["/ends", "/picks"]

    def test_the_number_of_layers_is_bounded(self) -> None:
        letters = "ABCDEFGHIJKLM"
        assert len(letters) == MOST_LAYERS + 1
        assert list(faults(ends=" ".join(letters), picks="A", joined=Joined.STITCHED)) == ["/ends"]
        ends, _ = layer_orders(
            Layers(ends=" ".join(letters[:-1]), picks="A", joined=Joined.STITCHED)
        )
        assert ends.threads == MOST_LAYERS
