"""Settings, gauge profiles and methods: their models, and the TOML files that ship."""
