"""Prices in the client and on its command line."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from client.recorded import ORDERS

from weavability.service.batches.csv_reports import ANSWER_COLUMNS, APPENDED_COLUMNS
from weavability_client import Client, Prices, _local, cli
from weavability_client._columns import read_columns

pytestmark = pytest.mark.usefixtures("one_application")

ORDER = {name: ORDERS["D-102"][name] for name in ("construction", "loom_id")}
PRICES = """
currency = "EUR"
loom_hour = 6.5

[yarn_per_kg]
"warp A" = 3.4
"weft A" = 3.1
"""


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str]:
    order, prices = tmp_path / "order.csv", tmp_path / "prices.toml"
    order.write_text(
        "reference,loom_id,weave,width_cm,length_m,ends_per_cm,picks_per_cm,warp_yarn_A,"
        "weft_yarn_A\nSO-1,rapier-190-dobby,plain,152,3000,28,24,Ne 30,Ne 30\n"
    )
    prices.write_text(PRICES)
    return str(order), str(prices)


def test_a_report_has_typed_costs() -> None:
    with Client(_local.ADDRESS, session=_local.local_session()) as mill:
        prices = Prices(currency="EUR", yarn_per_kg={"warp A": 3.4}, loom_hour=6.5)
        report = mill.validate(ORDER["construction"], loom_id=ORDER["loom_id"], prices=prices)
        assert report.costs is not None
        assert report.costs.currency == "EUR"
        by_driver = {each.driver: each.cost_per_m for each in report.costs.drivers}
        assert sum(by_driver.values()) == pytest.approx(report.costs.cost_per_m, rel=1e-4)
        assert "weft A" in {each.driver for each in report.costs.not_priced}
        assert "EUR/m" in str(report)
        assert "not priced: weft A" in str(report)
        assert report.link is not None
        assert mill.report(report.link).costs is None
        ranking = mill.match_looms(ORDER["construction"], prices=prices, rank_by="cost")
        assert ranking.currency == "EUR"
        best, *_ = ranking.matches
        assert best.costs is not None
        assert "EUR/m" in str(ranking)
        assert "weft A" in str(ranking.to_rows()[0]["costs.not_priced"])
        assert "EUR/m" not in str(mill.match_looms(ORDER["construction"]))


def test_prices_from_a_file_go_with_every_order_that_states_none(
    files: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    order, prices = files
    options = ["--local", "--prices", prices]
    assert cli.main(["validate", order, *options, "--format", "csv"]) == 0
    (row,) = csv.DictReader(io.StringIO(capsys.readouterr().out))
    assert row["costs.currency"] == "EUR"
    per_m, per_ordered_m = (float(row[f"costs.cost_per_{metre}"]) for metre in ("m", "ordered_m"))
    assert per_m * 3000 == pytest.approx(float(row["costs.cost_for_order"]), rel=1e-4)
    assert per_ordered_m == per_m
    assert "weft A" in {each["driver"] for each in json.loads(row["costs.drivers"])}
    assert row["costs.not_priced"] == "size; change-over; energy"
    # The columns have the names of the service's own sheet.
    own = {each.name for each in (*ANSWER_COLUMNS, *APPENDED_COLUMNS)}
    missing = {each for each in own - set(row) if each.startswith(("costs.", "energy.", "order."))}
    assert all(each.startswith(("order.cuts.", "energy.air_m3")) for each in missing), missing
    assert cli.main(["validate", order, order, *options]) == 0
    head, _, first, *_ = capsys.readouterr().out.splitlines()
    assert head.split()[-3:] == ["EUR/m", "gravest", "finding"]
    assert f"{per_m:.4g}" in first.split()
    assert cli.main(["match", order, *options, "--rank-by", "cost"]) == 0
    assert "EUR/m" in capsys.readouterr().out
    Path(prices).write_text(PRICES.replace("weft A", "weft B"))
    assert cli.main(["validate", order, *options]) == 2
    assert "/prices/yarn_per_kg/weft B" in capsys.readouterr().err
    assert cli.main(["match", order, "--local", "--rank-by", "cost"]) == 2
    assert "/rank_by" in capsys.readouterr().err


@pytest.mark.slow
def test_prices_of_the_command_line_are_used_in_place_of_those_of_an_order(
    files: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    order, prices = files
    own = tmp_path / "own.csv"
    header, row = Path(order).read_text().splitlines()
    own.write_text(f"{header},prices.currency,prices.loom_hour\n{row},CHF,9.5\n")
    line = f"weavability: --prices {prices} is used in place of the prices of"
    costs = []
    for each in (order, str(own)):
        assert cli.main(["validate", each, "--local", "--prices", prices, "--format", "csv"]) == 0
        out, said = capsys.readouterr()
        assert (f"{line} the order" in said) is (each != order)
        (found,) = csv.DictReader(io.StringIO(out))
        costs.append((found["costs.currency"], found["costs.cost_per_m"]))
    assert costs[0] == costs[1]
    assert cli.main(["match", str(own), "--local", "--prices", prices]) == 0
    assert f"{line} the order" in capsys.readouterr().err
    assert cli.main(["validate", str(own), str(own), "--local", "--prices", prices]) == 0
    assert f"{line} 2 orders" in capsys.readouterr().err


def test_a_sheet_may_hold_prices() -> None:
    table = "weave,prices.loom_hour,prices.yarn_per_kg.weft B\nplain,6.5,3.1\n"
    assert read_columns(table, name="book.csv") == [
        {
            "construction": {"weave": "plain"},
            "prices": {"loom_hour": 6.5, "yarn_per_kg": {"weft B": 3.1}},
        }
    ]
