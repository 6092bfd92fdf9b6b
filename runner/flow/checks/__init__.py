"""The author's checks: what a flow may say by its schema, and should not say to a crew."""
