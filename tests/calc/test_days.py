"""Times as suppliers state them, in whole days."""

import pytest

from stash.calc.days import read_days, write_days
from stash.calc.errors import CalcError


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("18", 18),
        ("18 days", 18),
        ("1 day", 1),
        ("2 weeks", 14),
        ("2 Wks.", 14),
        ("1 1/2 weeks 0.5 days", 11),
        ("2 weeks 3 days", 17),
        ("2 weeks 3", 17),
        ("0", 0),
    ],
)
def test_a_time_is_read_in_days(text, days):
    assert read_days(text) == days


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Nothing was typed"),
        ("3 months", "“months” is not a sure number of days"),
        ("10-14 days", "without a dash"),
        ("3 days 2 weeks", "weeks first"),
        ("1 1/2 days", "whole number of days"),
        ("soon", "cannot be read"),
        ("3 hours", "“hours” cannot be read here"),
        ("731", "more than 730 days"),
        ("2 weeks!", "cannot"),
    ],
)
def test_what_is_no_time_is_refused_in_words(text, says):
    with pytest.raises(CalcError, match=says):
        read_days(text)


@pytest.mark.parametrize("days", [0, 1, 6, 7, 14, 18, 730])
def test_a_written_time_reads_back(days):
    assert read_days(write_days(days)) == days
