"""Reading a clinic's own spreadsheets. The engine knows no app: each registers its sheets (see sheet.py)."""
