"""Ways out of a shortage: what would make the shelf say yes. A file to a way; `ways_out` asks for them all.

A closer sett is never among them: it saves repeats, not width (common practice).
"""
