"""What dyecast knows before a photo is taken: the reference card, its true values, the grading limits."""
