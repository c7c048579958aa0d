"""Signed-off reviews: records, the register that chains them, signatures, and what still holds."""
