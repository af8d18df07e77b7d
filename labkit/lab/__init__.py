"""The lab on this computer: its folder, and JupyterLab opened in it."""
