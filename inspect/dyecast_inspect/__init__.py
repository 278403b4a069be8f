"""What happens to one photo: read, find, correct, register, compare, grade, explain."""
