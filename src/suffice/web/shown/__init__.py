"""What pages share when they show a value: wording, marks, workings."""
