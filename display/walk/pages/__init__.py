"""The pages of the walk, by what is being done; each is a pure function of view and place."""
