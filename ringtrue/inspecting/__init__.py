"""The walk through an inspection in the terminal: an ordinary client of a bay, and nothing is kept only here.

    bay ─▶ View ─▶ walk ─▶ Page ─▶ app        what the bay says, and where the person looks, make a page
    bay ◀─ Send ◀─ Choice ◀─ key              a key is a choice of the page, and most choices are commands

Only `app`, `sheet`, `widgets` and `style` know the terminal; all else is plain data in and out.
"""
