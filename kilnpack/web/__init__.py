"""The pages for loader, planner and owner: requests in, pages out; what is done is in `workflow` and below."""
