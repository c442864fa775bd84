"""What anybody could make of the same readings who was told much more than a bay knows.

An oracle is told the noise and the drift's size, every true angle, the family of surfaces of the study with
their dent's place, form and size, that the gauge's error curve is straight, and what kind of thing may have
gone wrong; where that is written, also where. It weighs the rest by Bayes' rule. Where even it misses an
aim, no use of the readings alone meets it; where it does much better, one might.
"""
