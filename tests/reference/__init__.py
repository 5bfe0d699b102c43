"""The measures again, slow and obvious: plain Python written from the definitions, to hold the SQL against.

Nothing here is fast, and nothing is taken over from the SQL but the conventions that its headers state.
"""
