"""A kernel of this very Python, whatever kernel a notebook names; it imports nothing from beside it."""

from jupyter_client.kernelspec import KernelSpecManager
from jupyter_client.manager import AsyncKernelManager
from traitlets import default

from labkit.lab.kernels import LabKernelSpecs


class FreshKernel(AsyncKernelManager):
    """Starts the kernel that the lab starts."""

    @default("kernel_spec_manager")
    def _of_the_lab(self) -> KernelSpecManager:
        return LabKernelSpecs()
