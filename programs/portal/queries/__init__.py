"""What the signed-in client sees. Everything starts from `own_client(user)`: nobody else's data can be reached."""
