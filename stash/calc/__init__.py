"""The arithmetic of the shelf and of the loom: pure Python, no Django, no clock, no database.

Canonical units, kept in the names: lengths in whole micrometres (`_um`), masses in whole milligrams
(`_mg`), money in whole cents (`_cents`). What lies between is a `fractions.Fraction`.
"""
