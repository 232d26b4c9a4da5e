"""The pages of visits: the office's, and the technician's on a tablet."""
