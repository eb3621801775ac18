"""What a plan is made of: pure functions of an assessment. Nothing here is kept or decided."""
