"""A fleet over all its bays: who drifts, which bay or gauge reads high, what each method came to."""
