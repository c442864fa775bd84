"""Pictures of what was measured."""
