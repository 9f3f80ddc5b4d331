"""Files to models: knowledge folders, machine files and scenario files, with every error named by place."""
