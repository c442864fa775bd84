"""What an unknown gauge sends, made out from its bytes and from movements that are known. Pure.

    bytes with times ─▶ cutting (frames) ─▶ texts, digits, integers (where the number may be)
                                                   │ moves (is it what was moved? in which unit?)
    found, ambiguous or unknown ◀─ judging ◀───────┘

Never confidently wrong: what is found explains every whole frame that was heard, at rest and moving, by the
very framers and codecs that will read the gauge; and nothing else that does so would read anything else.
"""
