"""What is judged by eye."""
