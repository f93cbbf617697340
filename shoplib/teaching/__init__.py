"""What an exercise and a lesson are: seeded numbers, marking, named mistakes."""
