"""The local page and its JSON API: thin faces over the rooms below."""
