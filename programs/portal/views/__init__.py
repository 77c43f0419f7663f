"""The client's pages, one module per page."""
