"""The Python that a lab's notebooks run on: the one that labkit is installed in, and no other."""

from ipykernel.kernelspec import RESOURCES, get_kernel_dict
from jupyter_client.kernelspec import NATIVE_KERNEL_NAME, KernelSpec, KernelSpecManager

# A panel wakes by itself, so a file called labkit.py or numpy.py that came along with
# somebody's notebook must not be what is imported.
ARGUMENTS = ["--InteractiveShellApp.ignore_cwd=True", "--IPKernelApp.log_level=ERROR"]

# A fit works on many small matrices: threads that share one of them wait for each other.
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}


class LabKernelSpecs(KernelSpecManager):
    """Kernel specs in which “python3” is always this Python, and imports nothing from beside a notebook."""

    def get_kernel_spec(self, kernel_name: str) -> KernelSpec:
        """Return the spec of one kernel by its name."""
        if kernel_name.lower() != NATIVE_KERNEL_NAME:
            return super().get_kernel_spec(kernel_name)
        spec = get_kernel_dict(extra_arguments=ARGUMENTS)
        return KernelSpec(**{**spec, "resource_dir": RESOURCES, "env": {**spec.get("env", {}), **ONE_THREAD}})
