"""The error-correcting codes of the formats: encoders, decoders, and the counting that foretells them."""
