"""How the ledger's tables came to be, step by step; run by `hardtack.ledger.opening`."""
