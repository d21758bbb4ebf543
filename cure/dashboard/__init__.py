"""What people see: pages, charts, records. Stored rows in; pages out, and what people do on them as acts."""
