"""The whole studio as one file, lossless. `schema.md` says how such a file is written.

`table` and `column` say what a table is, `shelf` lists those of this app, and a layout puts the tables of several
apps together (`stash.site.archive`). `writing` makes a file, `reading` checks one, `loading` puts it into a database.
"""
