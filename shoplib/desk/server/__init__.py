"""Starting the servers: JupyterLab, and the notebooks as pages."""
