"""Floors: the least code that prints what a page prints.

A floor is a view in the same stack: the same server call, middleware, session and person, and the same base
template with its context. Inside, it has no models, forms, tables or templates of ours: SQL written by hand fetches
the same rows, and one plain loop joins them into the same cells, bars and inputs. What is mere arithmetic or wording
without Django is called as the page calls it (`stash.calc`, and the plain functions that draw a bar or say a
sentence): nobody would write it twice, and it is timed by itself. The benchmark compares the words of page and floor,
so that a floor which prints less is seen.
"""
