"""The client's API: everything under /api/v1/me/ is the signed-in client's own, and nobody else's."""
