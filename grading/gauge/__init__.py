"""What a gauge is worth: repeatability, studies, budgets."""
