"""Two revisions of a flow, or two types, compared by what they mean to the crew."""
