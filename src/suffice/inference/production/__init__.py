"""What a breast makes where the infant feeds between expression sessions."""
