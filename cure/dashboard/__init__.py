"""The web face: stored rows in; pages out, and what people do on them as acts."""
