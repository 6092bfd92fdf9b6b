"""Many runs under one signed head: tree (RFC 6962), signed note and checkpoint, index, proofs.

Rules: needs nothing but the rest of `audit`; a run is a leaf once its head is final, leaves are
only ever added behind; nothing is signed that does not extend what was signed before.
"""
