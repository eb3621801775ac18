"""Teams, passing families on, and opening one in an emergency."""
