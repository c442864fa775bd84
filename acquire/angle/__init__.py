"""Where the crank stood at each reading."""
