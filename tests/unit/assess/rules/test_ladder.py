"""A ladder of rows of our own: levels, doubt and rows about rows, as the table can hold them."""

from __future__ import annotations

from suffice.assess.rules.red_flag import findings_of
from suffice.assess.rules.rows import RowSet
from suffice.assess.rules.table import Facts, Sign
from suffice.assess.rules.truth import Truth
from unit.assess.rules.test_red_flag import AS_OF, CONTENT, a_measure, a_row

# Rows as the ladder of levels will need them: a line by hour and mode, a part of an interval, a
# combination of rows, and one that takes another back.
LADDER = (
    a_row(
        code="loss-look",
        level="consultant",
        when={
            "measure": "loss_percent",
            "compare": ">=",
            "limit": "weight_loss.limit_late_preterm_percent",
            "traits": {"mode": ["caesarean"]},
            "from_gestation": "age.preterm_before_days",
        },
    ),
    a_row(
        code="gain-perhaps",
        level="look",
        when={
            "measure": "first_weeks_gain_g_per_day",
            "compare": "<",
            "limit": "gain.first_days_g_per_day",
            "interval": "value",
        },
        unless=["gain-surely"],
    ),
    a_row(
        code="gain-surely",
        when={
            "measure": "first_weeks_gain_g_per_day",
            "compare": "<",
            "limit": "gain.first_days_g_per_day",
        },
    ),
    a_row(
        code="both",
        when={
            "all": [{"flag": "loss-look"}, {"any": [{"flag": "gain-surely"}, {"sign": "urates"}]}]
        },
    ),
)


def ladder(**facts):
    known = {"age_h": 144.0, "gestation_days": 280, "traits": {"mode": "caesarean"}, **facts}
    found = findings_of(
        RowSet(LADDER, CONTENT), Facts(**known), {}, as_of=AS_OF, infant_id=None
    ).held
    return [finding.code for finding, _ in found]


def test_the_table_can_hold_the_rows_of_a_ladder():
    loss = {"loss_percent": (a_measure(8.2, "%", 50.0),)}
    wide = {"first_weeks_gain_g_per_day": (a_measure(5.0, "g/d", 144.0, low=-5.0, high=25.0),)}
    sure = {"first_weeks_gain_g_per_day": (a_measure(5.0, "g/d", 144.0, low=1.0, high=9.0),)}
    urates = {"urates": (Sign(present=Truth.TRUE),)}
    assert ladder(measures=loss) == ["loss-look"]
    assert ladder(measures=loss, traits={"mode": "vaginal"}) == []
    assert ladder(measures=loss, traits={}) == []
    assert ladder(measures=loss, gestation_days=250) == []
    assert ladder(measures=wide) == ["gain-perhaps"]
    assert ladder(measures=sure) == ["gain-surely"]
    assert ladder(measures={**loss, **sure}) == ["loss-look", "gain-surely", "both"]
    assert ladder(measures={**loss, **wide}, signs=urates) == ["loss-look", "gain-perhaps", "both"]
