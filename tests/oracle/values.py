# SPDX-License-Identifier: MIT
"""Times, durations, penalties and instants as whole numbers (contract, section 1).

Times are whole milliseconds, penalties whole thousandths of a point. Every parser raises ValueError
for text that the contract does not allow.
"""
import re
from datetime import datetime, timedelta, timezone
from fractions import Fraction

UNIT = {"minute": 60000, "second": 1000, "tenth": 100, "hundredth": 10, "millisecond": 1}

_CLOCK = re.compile(r"([0-9]{2}):([0-9]{2})(?::([0-9]{2})(?:\.([0-9]{1,3}))?)?")
_SECONDS = re.compile(r"([0-9]+)(?:\.([0-9]{1,3}))?")
_PENALTY = re.compile(r"(-?)([0-9]+)(?:\.([0-9]{1,3}))?")
_INSTANT = re.compile(
    r"([0-9]{4}-[0-9]{2}-[0-9]{2})[Tt]([0-9]{2}:[0-9]{2}:[0-9]{2})(?:\.([0-9]+))?"
    r"(?:([Zz])|([+-])([0-9]{2}):([0-9]{2}))")


def time_of_day(text):
    """HH:MM, HH:MM:SS or HH:MM:SS.fff up to 47 hours, in milliseconds after midnight."""
    match = _CLOCK.fullmatch(text)
    if not match:
        raise ValueError(f"not a time of day: {text}")
    hours, minutes, seconds = int(match[1]), int(match[2]), int(match[3] or 0)
    if hours > 47 or minutes > 59 or seconds > 59:
        raise ValueError(f"not a time of day: {text}")
    return ((hours * 60 + minutes) * 60 + seconds) * 1000 + int((match[4] or "").ljust(3, "0"))


def duration(text):
    """A duration: written like a time of day, or as plain seconds (a JSON number too)."""
    text = str(text)
    match = _SECONDS.fullmatch(text)
    if match:
        return int(match[1]) * 1000 + int((match[2] or "").ljust(3, "0"))
    return time_of_day(text)


def unit(value):
    """A unit of time, named or as a duration, in milliseconds."""
    return UNIT[value] if value in UNIT else duration(value)


def penalty(value):
    """A penalty, rate or coefficient (a JSON number or text) in thousandths."""
    if isinstance(value, str):
        match = _PENALTY.fullmatch(value)
        if not match:
            raise ValueError(f"not a penalty: {value}")
        size = int(match[2]) * 1000 + int((match[3] or "").ljust(3, "0"))
        return -size if match[1] else size
    thousandths = Fraction(value) * 1000
    if thousandths.denominator != 1:
        raise ValueError(f"more than three decimals: {value}")
    return int(thousandths)


def instant(text):
    """An RFC 3339 time with offset, as an exact number of seconds since 1970."""
    match = _INSTANT.fullmatch(text)
    if not match:
        raise ValueError(f"not an instant: {text}")
    moment = datetime.fromisoformat(f"{match[1]}T{match[2]}").replace(tzinfo=timezone.utc)
    if match[5]:
        hours, minutes = int(match[6]), int(match[7])
        if hours > 23 or minutes > 59:
            raise ValueError(f"not an instant: {text}")
        offset = timedelta(hours=hours, minutes=minutes)
        moment = moment - offset if match[5] == "+" else moment + offset
    whole = moment - datetime(1970, 1, 1, tzinfo=timezone.utc)
    fraction = Fraction(int(match[3]), 10 ** len(match[3])) if match[3] else Fraction(0)
    return whole.days * 86400 + whole.seconds + fraction


def truncated(milliseconds, step):
    """The preceding whole unit."""
    return milliseconds // step * step


def half_up(value, step=1):
    """`value` (int or Fraction) rounded to a whole number of `step`, half up."""
    return down(Fraction(value) + Fraction(step, 2), step)


def down(value, step=1):
    """`value` (int or Fraction) taken down to a whole number of `step`."""
    scaled = Fraction(value) / step
    return scaled.numerator // scaled.denominator * step


def show_penalty(thousandths):
    """A decimal string with exactly three decimals."""
    sign = "-" if thousandths < 0 else ""
    whole, part = divmod(abs(thousandths), 1000)
    return f"{sign}{whole}.{part:03d}"


def show_time(milliseconds, precision):
    """HH:MM:SS with the decimals of the precision, more where the value needs them."""
    if milliseconds is None:
        return None
    sign = "-" if milliseconds < 0 else ""
    seconds, part = divmod(abs(milliseconds), 1000)
    decimals = next(count for count in range(4) if precision % 10 ** (3 - count) == 0)
    digits = f"{part:03d}"
    while decimals < 3 and int(digits[decimals:]):
        decimals += 1
    text = f"{sign}{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
    return f"{text}.{digits[:decimals]}" if decimals else text
