"""The daemon: journal, angle tagger, sweeps, the inspection, commands in, messages out."""
