"""Stage 4: what did the whole vessel look like?"""

from lossfill.form.fit import fit_form
from lossfill.form.form import Form

__all__ = ["Form", "fit_form"]
