# SPDX-License-Identifier: MIT
"""The entry list, and the classes and groups that it falls into (contract, 'Classes' and 'Groups')."""
from dataclasses import dataclass

import values

FIVA = [("A", 1904), ("B", 1918), ("C", 1930), ("D", 1945), ("E", 1960), ("F", 1970), ("G", None)]
APPENDIX_K = [("A", 1904), ("B", 1918), ("C", 1930), ("D", 1946), ("E", 1961), ("F", 1965), ("G1", 1969),
              ("G2", 1971), ("H1", 1975), ("H2", 1976), ("I", 1981), ("J1", 1985), ("J2", 1990)]
APPENDIX_K_2025 = APPENDIX_K[:-2] + [("J1", 1987), ("J2", 1992)]


@dataclass
class Entry:
    """A car. `born` is (year, month, day) of the driver's birth or None, `coefficient` thousandths."""
    number: int
    row: dict
    year: int
    engine_cc: int | None
    period: str
    class_id: str
    category: str
    team: str
    club: str
    groups: list
    coefficient: int
    born: tuple | None
    in_overall: bool
    in_classes: bool


def periods(event):
    """The periods as (id, first year or None, last year or None, counts in overall)."""
    classes = event["classes"]
    if classes["scheme"] == "custom":
        return [(period["id"], period.get("from"), period.get("to"), period.get("overall", True))
                for period in classes["periods"]]
    table = FIVA if classes["scheme"] == "fiva" else APPENDIX_K
    if classes.get("edition") == 2025:
        table = APPENDIX_K_2025
    return [(name, None if n == 0 else table[n - 1][1] + 1, last, True) for n, (name, last) in enumerate(table)]


def class_list(event):
    """All class ids in the order of periods."""
    capacity = event["classes"].get("capacity")
    if not capacity:
        return [period[0] for period in periods(event)]
    return [f"{period[0]}-{band['id']}" for period in periods(event) for band in capacity]


def entry_list(event, entry_rows):
    categories = {category["id"]: category for category in event["classes"].get("categories", [])}
    entries = []
    for row in entry_rows:
        year = int(row["year"])
        period, in_overall = next((name, overall) for name, first, last, overall in periods(event)
                                  if (first is None or first <= year) and (last is None or year <= last))
        category = row.get("category") or ""
        of_category = categories.get(category, {})
        entries.append(Entry(
            number=int(row["number"]), row=row, year=year,
            engine_cc=int(row["engine_cc"]) if row.get("engine_cc") else None,
            period=period, class_id=class_of(event, row, period), category=category,
            team=row.get("team") or "", club=row.get("club") or "",
            groups=[name for name in (row.get("groups") or "").split(";") if name],
            coefficient=values.penalty(row.get("coefficient") or "1"), born=birth(row.get("born") or ""),
            in_overall=in_overall and of_category.get("overall", True),
            in_classes=of_category.get("classes", True)))
    return sorted(entries, key=lambda entry: entry.number)


def class_of(event, row, period):
    """The period, and its capacity where classes are split by it."""
    capacity = event["classes"].get("capacity")
    if not capacity:
        return period
    size = int(row.get("engine_cc") or 0)
    if row.get("supercharged") == "yes":
        size = size * values.penalty(event["classes"].get("supercharged_factor", 1)) // 1000
    return f"{period}-{next(band['id'] for band in capacity if 'to' not in band or size <= band['to'])}"


def birth(text):
    """A year alone is its first of January."""
    if not text:
        return None
    parts = [int(part) for part in text.split("-")]
    return tuple(parts) if len(parts) == 3 else (parts[0], 1, 1)
