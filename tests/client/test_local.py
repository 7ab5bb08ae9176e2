"""The service in the client's own process."""

from __future__ import annotations

import ast
import csv
import io
import json
import re
import subprocess
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import pytest
import requests
from client.recorded import ORDERS

import weavability_client
from weavability.service.openapi.example_requests import LOOM
from weavability_client import Client, InvalidInput, Remedy, UsageError, _local
from weavability_client.cli import main

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIEnvironment

FOLDER = Path(weavability_client.__file__).parent
ORDER = dict(ORDERS["D-101"])


@pytest.fixture(scope="module")
def local() -> Iterator[Client]:
    with Client(_local.ADDRESS, session=_local.local_session()) as client:
        yield client


def test_it_judges_as_the_service_does(local: Client) -> None:
    report = local.validate(ORDER["construction"], loom_id=ORDER["loom_id"])
    assert report.reference == "D-101"
    assert report.link is not None
    assert local.report(report.link).validation_id == report.validation_id
    assert local.poll(report.link, report.etag) is None


def test_many_are_ranked_and_judged_in_short(local: Client) -> None:
    construction = ORDER["construction"]
    asked = [
        {"construction": construction, "loom_ids": [ORDER["loom_id"]]},
        {"construction": {**construction, "weave": "nonsense"}},
    ]
    seen: list[tuple[int, int | None]] = []
    first, second = local.match_many(asked, progress=lambda *done: seen.append(done))
    assert first.unwrap() == local.match_looms(construction, loom_ids=[ORDER["loom_id"]])
    assert isinstance(second.error, InvalidInput)
    assert second.error.pointer == "/construction/weave"
    assert seen == [(1, 2), (2, 2)]

    report = local.validate(construction, loom_id=ORDER["loom_id"])
    together = [each.unwrap() for each in local.summarise_many([ORDER, ORDER])]
    (alone,) = (each.unwrap() for each in local.summarise_many([ORDER]))
    for short in (*together, alone):
        assert short.validation_id == report.validation_id
        assert short.verdict is report.verdict
        assert short.hours_for_order == report.rates.hours_for_order
        assert short.codes == tuple(dict.fromkeys(each.code for each in report.findings))
    assert report.link is not None
    assert local.summary(report.link) == alone
    assert alone.caution == report.caution


@pytest.mark.slow
@pytest.mark.parametrize("reference", ["D-103", "D-116", "D-118", "D-120"])
def test_a_remedy_that_is_applied_clears_what_it_says(local: Client, reference: str) -> None:
    order = ORDERS[reference]
    (result, *_) = local.validate_many([order])
    tried = 0
    for finding in result.unwrap().findings:
        for remedy in finding.remedies:
            (again, *_) = local.validate_many([remedy.applied(order)])
            left = {each.code for each in again.unwrap().findings} & set(remedy.clears)
            assert left == set(remedy.leaves_notes or ())
            tried += 1
    assert tried
    assert order == ORDERS[reference]


@pytest.mark.slow
def test_the_way_out_is_proved_and_written(local: Client, tmp_path: Path) -> None:
    order: dict[str, Any] = {
        **ORDERS["D-120"],
        "construction": {**ORDERS["D-120"]["construction"], "panels": 1},
    }
    report = local.validate(**order)
    found = local.remedies(**order)
    remedy = found.best
    assert not report.ok
    assert remedy is not None
    assert local.validate(**report.fixed(remedy)).ok
    assert found.fixed(remedy) == report.fixed(remedy)
    # Over the park a remedy is for the loom under which it is listed; those left out are named.
    park = local.remedies(order["construction"])
    (second,) = park.looms[1].remedies[:1]
    assert park.fixed(second)["loom_id"] == park.looms[1].loom_id
    assert park.not_searched
    assert all(str(each) in str(park) for each in park.not_searched)
    rows = park.to_rows()
    left_out = [each["loom_id"] for each in rows if each["row"] == "not_searched"]
    assert left_out == list(park.not_searched)
    missing = [(each.code, "; ".join(each.tried)) for one in park.looms for each in one.not_found]
    assert missing == [(e["not_found"], e["tried"]) for e in rows if e["row"] == "not_found"]
    # No remedy, and one of another order or of another search, is refused.
    with pytest.raises(UsageError, match=r"takes a remedy of this answer.*None"):
        report.fixed(cast("Any", None))
    width = {**order["construction"], "width_cm": order["construction"]["width_cm"] + 3}
    other = local.remedies(**{**order, "construction": width})
    (narrower, *_) = (each for each in other.looms[0].remedies if "width" in each.pointer)
    for answer in (report, found):
        with pytest.raises(UsageError, match="is of another answer: 'Weave it"):
            answer.fixed(narrower)
    again = local.report(str(report.link))
    with pytest.raises(UsageError, match="does not know its request"):
        again.fixed(remedy)
    assert again.fixed(remedy, order) == again.for_request(order).fixed(remedy)

    stated, fixed = tmp_path / "order.json", tmp_path / "fixed.json"
    stated.write_text(json.dumps(order), "utf-8")
    command = ["remedies", "--local", str(stated), "--format", "csv", "--fix"]
    assert main([*command, str(fixed)]) == 0
    assert json.loads(fixed.read_text("utf-8")) == remedy.applied(order)
    assert main([*command, str(fixed), "--remedy", "99"]) == 2
    of_two = ["--loom-id", "rapier-190-dobby", "--loom-id", "rapier-340-dobby"]
    assert main([*command, str(fixed), *of_two]) == 0
    both = local.remedies(order["construction"], loom_ids=of_two[1::2])
    assert both.best is not None
    assert {each.loom_id for each in both.looms} == set(of_two[1::2])
    assert json.loads(fixed.read_text("utf-8")) == both.fixed(both.best)
    assert main([*command, str(fixed), "--loom", str(stated), "--loom", str(stated)]) == 2


@pytest.mark.slow
def test_the_exit_status_says_whether_what_is_written_is_weavable(
    local: Client, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    stated, fixed = tmp_path / "order.json", tmp_path / "fixed.json"
    command = ["remedies", "--local", str(stated), "--format", "csv"]

    def run(*more: str, **changes: object) -> tuple[int, str]:
        plain = {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}}
        cloth = {
            "warp": {**plain, "ends_per_cm": 25.4},
            "weft": {**plain, "picks_per_cm": 24},
            "weave": "plain",
            "width_cm": 150,
            **changes,
        }
        order = {"construction": cloth, "loom_id": "rapier-190-dobby"}
        stated.write_text(json.dumps(order), "utf-8")
        fixed.unlink(missing_ok=True)
        status = main([*command, *more])
        return status, capsys.readouterr()[1 if more else 0]

    too_much = {"width_cm": 200, "requested_speed_picks_per_min": 700}
    status, listed = run(**too_much)
    rows = list(csv.DictReader(io.StringIO(listed)))
    eased = next(each for each in rows if each["leaves_warnings"])
    assert status == 0
    assert eased["leaves_warnings"] in eased["message"]
    assert not set(eased["leaves_warnings"].split()) & set(eased["clears"].split())
    status, said = run("--fix", str(fixed), "--remedy", eased["remedy"], **too_much)
    assert (status, "still not weavable" in said) == (1, True)
    assert not local.validate(**json.loads(fixed.read_text("utf-8"))).ok
    # A nearer one that leaves a rejection to what is assumed is written only if it is chosen.
    wide = {"width_cm": 182, "requested_speed_picks_per_min": 700}
    rows = list(csv.DictReader(io.StringIO(run(**wide)[1])))
    doubtful = next(each for each in rows if each["rejected_if_assumed"])
    assert run("--fix", str(fixed), **wide)[0] == 0
    assert local.validate(**json.loads(fixed.read_text("utf-8"))).verdict_note is None
    status, said = run("--fix", str(fixed), "--remedy", doubtful["remedy"], **wide)
    assert (status, "not weavable on rapier-190-dobby (width.reed_space) if" in said) == (0, True)
    assert local.validate(**json.loads(fixed.read_text("utf-8"))).verdict_note
    status, said = run("--fix", str(fixed), reed={"dents_per_10cm": 120, "ends_per_dent": 2})
    assert (status, "weavable on rapier-190-dobby as it is" in said) == (0, True)
    assert (
        fixed.read_text("utf-8")
        == json.dumps(json.loads(stated.read_text("utf-8")), indent=2) + "\n"
    )
    lost = {"layers": {"ends": "1F 1B", "picks": "1F 1B", "joined": "separate"}}
    status, said = run("--fix", str(fixed), **lost)
    assert (status, "nothing is written" in said, fixed.exists()) == (1, True, False)


def test_a_remedy_makes_the_part_that_its_field_lacks() -> None:
    remedy = Remedy(pointer="/a/b~1c/d~0", to_value=1, message="", clears=())
    assert remedy.applied({"x": 2}) == {"x": 2, "a": {"b/c": {"d~": 1}}}
    open_draft = Remedy(pointer="/construction/draft", to_value=None, message="", clears=())
    drawn = {"construction": {"weave": "plain", "draft": {"threading": [1, 1]}}}
    assert open_draft.applied(drawn) == {"construction": {"weave": "plain"}}


@pytest.mark.slow
def test_a_page_shows_layers_and_pieces_and_that_nothing_is_priced(local: Client) -> None:
    yarns = {"A": {"designation": "Ne 30", "fibre": "cotton"}}
    order: dict[str, Any] = {
        "warp": {"yarns": yarns, "ends_per_cm": 52},
        "weft": {"yarns": yarns, "picks_per_cm": 50},
        "weave": "double cloth plain + plain",
        "layers": {"ends": "1F 1B", "picks": "1F 1B", "joined": "separate"},
        "width_cm": 150,
        "order": {"pieces": 40, "piece_length_m": 60},
    }
    report = local.validate(order, loom=LOOM, prices={"currency": "EUR"}, decisive_assumptions=True)
    page = str(report)
    assert "layer B: cloth, plain, 26 x 25 per cm, " in page
    assert "joined: separate" in page
    assert "cost: nothing is priced: warp A, weft A" in page
    # What only changes which reed in stock serves is in one line.
    found = report.decisive_assumptions or ()
    of_stock = [each for each in found if each.codes == ("reed.not_in_stock",)]
    assert of_stock == [each for each in found if each.is_of_stock]
    listed = [each for each in found if not each.is_of_stock]
    assert all(f"decides: {each.message}" in page for each in listed)
    (line,) = (one for one in page.splitlines() if "no reed in stock serves" in one)
    assert of_stock
    assert all(str(each.name) in line and str(each.where) in line for each in of_stock)
    assert line.strip() == report.reed_note
    assert "(assumed: " in line
    assert "/construction/" not in line
    # The pieces woven need 0.002 % more than the yarn that is planned, which is as good as none.
    assert report.order is not None
    assert report.order.cuts is not None
    assert 0 < report.order.cuts.more_pct < 0.01
    assert "40 pieces of 60 m: weave 44; the ends of full beams cut 0\n" in page
    fewer = local.validate(order | {"order": {"pieces": 3, "piece_length_m": 60}}, loom=LOOM)
    assert " % more than yarn is for" in str(fewer)


def test_a_price_of_a_yarn_is_not_that_of_another_yarn() -> None:
    order: dict[str, Any] = {
        "construction": {"weft": {"yarns": {"A": {"designation": "Ne 20", "fibre": "cotton"}}}},
        "prices": {"loom_hour": 6, "yarn_per_kg": {"warp A": 4, "weft A": 3}},
    }
    at = "/construction/weft/yarns/A"
    finer = Remedy(pointer=f"{at}/designation", to_value="Ne 24", message="", clears=())
    assert finer.applied(order)["prices"] == {"loom_hour": 6, "yarn_per_kg": {"warp A": 4}}
    ends = {"leno A": 9, "warp B": 5}
    warped = {
        "construction": {"warp": {"yarns": {"A": {"designation": "Ne 20"}, "B": {}}}},
        "prices": {"yarn_per_kg": {"warp A": 4, "catch cord A": 9, **ends}},
    }
    at_warp = "/construction/warp/yarns/A/designation"
    coarser = Remedy(pointer=at_warp, to_value="Ne 16", message="", clears=())
    assert coarser.applied(warped)["prices"] == {"yarn_per_kg": {"warp B": 5}}
    crimped = Remedy(pointer=f"{at}/crimp_pct", to_value=5, message="", clears=())
    assert crimped.applied(order)["prices"] == order["prices"]


@pytest.mark.slow
def test_a_remedy_that_takes_a_yarn_out_can_be_sent_with_its_prices(local: Client) -> None:
    coarse = {"designation": "Ne 4", "fibre": "cotton", "colour": "#f0e8d8"}
    fine = {"designation": "Ne 20", "fibre": "cotton"}
    wefts = {"A": coarse, "B": fine, "C": coarse}  # the loom has two selectors
    order: dict[str, Any] = {
        "construction": {
            "weave": "plain",
            "width_cm": 150,
            "warp": {"yarns": {"A": fine}, "ends_per_cm": 24},
            "weft": {
                "yarns": wefts,
                "order": " ".join(f"2{key}" for key in wefts),
                "picks_per_cm": 12,
            },
        },
        "loom_id": "air-jet-190-cam",
        "prices": {"yarn_per_kg": {"warp A": 4, "weft A": 3, "weft B": 4, "weft C": 5}},
    }
    found = local.remedies(**order)
    remedies = found.looms[0].remedies
    remedy = next(each for each in remedies if tuple(each.clears) == ("weft.selectors",))
    fixed = found.fixed(remedy, order)
    assert set(fixed["prices"]["yarn_per_kg"]) == {"warp A", "weft A", "weft B"}
    assert "weft.selectors" not in {each.code for each in local.validate(**fixed).findings}
    assert "nothing found makes the order weavable" not in str(found)
    # Beyond any change of yarn, and with more pieces made than are ordered.
    order["construction"]["weft"]["yarns"] = {"A": {"linear_density_tex": 900, "fibre": "cotton"}}
    order["construction"]["weft"]["order"] = "A"
    order["construction"]["order"] = {"pieces": 10, "piece_length_m": 50, "overage_pct": 5}
    order["prices"] = {"yarn_per_kg": {"warp A": 4, "weft A": 3}}
    lost = local.remedies(**order)
    assert lost.best is None
    assert "air-jet-190-cam: nothing found makes the order weavable here" in str(lost)
    assert " per ordered metre" in str(local.validate(**order))
    rows = found.to_rows()
    (row,) = (each for each in rows if each["message"] == remedy.message)
    assert set(json.loads(str(row["changes"]))) >= {"/construction/weft/yarns"}
    assert isinstance(row["cost_per_m_after"], float)
    assert all(list(each) == list(row) for each in rows)


def test_looms_that_only_an_assumed_value_allows_are_named_apart(local: Client) -> None:
    # 150 cm take about 159 cm in the reed, if the weft crimp is as it is estimated.
    cloth: dict[str, Any] = {
        "warp": {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}, "ends_per_cm": 26},
        "weft": {"yarns": {"A": {"designation": "Ne 36", "fibre": "cotton"}}, "picks_per_cm": 24},
        "weave": "plain",
        "width_cm": 150,
    }
    ranked = local.match_looms(cloth)
    doubtful = [each for each in ranked.matches if each.rejected_if_assumed]
    names = [each.loom_id for each in doubtful]
    assert "rapier-150-dobby" in names
    assert [each.loom_id for each in ranked.matches if each.ok][-len(names) :] == names
    rows = {each["loom_id"]: each for each in ranked.to_rows()}
    assert rows["rapier-150-dobby"]["rejected_if_assumed"] == "width.reed_space"
    assert rows["rapier-190-dobby"]["rejected_if_assumed"] == ""
    (line,) = (each for each in str(ranked).splitlines() if each.split()[1] == "rapier-150-dobby")
    assert "weavable with warnings  not weavable" in line
    said = "if what is assumed is so, not weavable on "
    assert f"{said}rapier-150-dobby (width.reed_space)" in str(ranked)
    found = local.remedies(cloth, loom_id="shuttle-130-cam")
    assert [each.loom_id for each in found.other_looms if each.rejected_if_assumed] == names
    assert f"{said}rapier-150-dobby (width.reed_space)" in str(found)
    (sure,) = (each for each in str(found).splitlines() if "weavable as it is on" in each)
    assert not any(str(each) in sure for each in names)
    assert "rapier-190-dobby (" in sure
    others = [each for each in found.to_rows() if each["row"] == "other_loom"]
    assert [each["loom_id"] for each in others] == [each.loom_id for each in found.other_looms]
    assert all(isinstance(each["hours"], float) for each in others)


def test_the_best_remedy_of_an_order_in_doubt_leaves_none(local: Client) -> None:
    cloth: dict[str, Any] = {
        "warp": {"yarns": {"A": {"designation": "Ne 30", "fibre": "cotton"}}, "ends_per_cm": 26},
        "weft": {"yarns": {"A": {"designation": "Ne 36", "fibre": "cotton"}}, "picks_per_cm": 24},
        "weave": "plain",
        "width_cm": 148,
    }
    found = local.remedies(cloth, loom_id="rapier-150-dobby")
    (on,) = found.looms
    assert on.rejected_if_assumed == ("width.reed_space",)
    assert on.remedies[0].rejected_if_assumed
    assert found.best is not None
    assert found.best.pointer == "/construction/width_cm"
    assert local.validate(**found.fixed(found.best)).verdict_note is None
    shown = str(found)
    assert "not weavable (width.reed_space) as it is, if what is assumed is so" in shown
    (doubtful, sure, *_) = re.findall(r"  rapier-150-dobby +[12]  .*", shown)
    assert "weavable with warnings  not weavable   Set" in doubtful
    assert "not weavable" not in sure
    # Figures have their unit, and those that read alike are left out.
    assert re.search(r"rapier-150-dobby 1: grey mass [\d.]+ to [\d.]+ g/m²; cloth cover", shown)
    pairs = re.findall(r" ([\d.]+) to ([\d.]+)", shown)
    assert pairs
    assert all(before != after and len(before) < 7 for before, after in pairs)


def test_many_are_judged_in_packs(local: Client) -> None:
    results = list(local.validate_many([ORDER, {}, ORDER]))
    assert [each.report is None for each in results] == [False, True, False]


def test_a_park_of_ones_own_is_used(tmp_path: Path) -> None:
    park = tmp_path / "park.toml"
    park.write_text(
        '[[loom]]\nloom_id = "L1"\nreed_width_cm = 190\nmax_speed_picks_per_min = 500\n'
        'insertion = { system = "rapier" }\nshedding = { kind = "cam", shafts = 8 }\n'
    )
    with Client(_local.ADDRESS, session=_local.local_session(park)) as client:
        assert [loom.loom_id for loom in client.looms()] == ["L1"]


def test_a_park_that_cannot_be_used_is_reported(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="loom park cannot be used"):
        _local.local_session(tmp_path / "nowhere.toml")


def test_a_mills_own_thresholds_are_used(tmp_path: Path) -> None:
    own = tmp_path / "mill.toml"
    own.write_text("order_short_run_hours = 100000")
    with Client(_local.ADDRESS, session=_local.local_session(thresholds=own)) as client:
        report = client.validate(ORDER["construction"], loom_id=ORDER["loom_id"])
    _local.local_session()  # puts the shipped thresholds in force again
    assert "order.length" in {finding.code for finding in report.findings}


def test_thresholds_that_cannot_be_used_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"thresholds cannot be used: .*nowhere\.toml"):
        _local.local_session(thresholds=tmp_path / "nowhere.toml")


@pytest.mark.parametrize("text", ["x = " + "[" * 20_000, "x = " + "1" * 5_000])
def test_the_file_that_is_wrong_is_the_one_that_is_named(tmp_path: Path, text: str) -> None:
    own = tmp_path / "mill.toml"
    own.write_text(text)
    with pytest.raises(UsageError, match=r"thresholds cannot be used: .*mill\.toml"):
        _local.local_session(thresholds=own)
    with pytest.raises(UsageError, match=r"loom park cannot be used: mill\.toml"):
        _local.local_session(own)


def test_without_the_service_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_local, "SERVICE", "weavability_is_not_here")
    with pytest.raises(UsageError, match=r"weavability\[server\]"):
        _local.local_session()


@pytest.mark.slow
def test_only_one_module_looks_the_service_up_and_only_on_request() -> None:
    users = [
        path.name
        for path in FOLDER.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Name | ast.Attribute)
        and getattr(node, "id", getattr(node, "attr", "")) in {"import_module", "__import__"}
    ]
    assert set(users) == {"_local.py"}
    program = (
        "import sys, weavability_client.cli, weavability_client._local; "
        "print([n for n in sys.modules if n.split('.')[0] in ('weavability', 'flask', 'numpy')])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.stdout.strip() == "[]"


class Recorder:
    """A WSGI application that answers in pieces, keeps what it was asked, and counts closings."""

    def __init__(self) -> None:
        self.environ: dict[str, Any] = {}
        self.closed = 0

    def __call__(self, environ: WSGIEnvironment, start: StartResponse) -> Iterable[bytes]:
        self.environ = dict(environ)
        self.body = environ["wsgi.input"].read()
        start("418 A teapot", [("X-Lid", "on"), ("Content-Type", "text/plain")])(b"first ")
        return self

    def __iter__(self) -> Iterator[bytes]:
        yield b"sec"
        yield b"ond"

    def close(self) -> None:
        self.closed += 1


def test_a_request_reaches_the_application_as_over_the_wire() -> None:
    application = Recorder()
    session = requests.Session()
    session.mount(_local.ADDRESS, _local.WsgiAdapter(application))
    answer = session.post(
        f"{_local.ADDRESS}/a%20b?q=%C3%A4",
        data=b"body",
        headers={"Content-Type": "text/x", "X-Mill": "east"},
    )
    seen = application.environ
    assert (answer.status_code, answer.reason, answer.text) == (418, "A teapot", "first second")
    assert answer.headers["X-Lid"] == "on"
    assert (seen["REQUEST_METHOD"], seen["PATH_INFO"], seen["QUERY_STRING"]) == (
        "POST",
        "/a b",
        "q=%C3%A4",
    )
    assert (seen["CONTENT_TYPE"], seen["CONTENT_LENGTH"], seen["HTTP_X_MILL"]) == (
        "text/x",
        "4",
        "east",
    )
    assert application.body == b"body"
    assert application.closed == 1
