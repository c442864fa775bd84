"""The walk through an inspection: an ordinary client of a bay, and nothing is kept only here.

    bay ─▶ View ─▶ course ─▶ Page ─▶ screen   what the bay says, and where the person looks, make a page
    bay ◀─ Send ◀─ Choice ◀─── key            a key is a choice of the page, and most choices are commands

`walker` is the one door: it holds the place, shows its page and takes a key. Whatever draws it is elsewhere.
"""
