"""The pier page: does it balance, does 12 V arrive, does the column stand; read `page`, then `draft` and `editors`."""
