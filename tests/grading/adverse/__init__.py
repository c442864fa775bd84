"""Bad days: simulated sweeps over surfaces whose true TIR lies at the limit, with something amiss in each.

A regime is one thing that goes wrong, its size drawn afresh for every sweep; the seed, the regime's name
and the sweep's number give the sweep again, alone or among others. Sizes are those that bays meet, as found
by trying, no source; none is chosen to suit the estimate.
"""
