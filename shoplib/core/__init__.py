"""What every calculation is made of."""
