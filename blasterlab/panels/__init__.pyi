"""Public names of the room and the module of each; loaded when first used."""

from .barrel_length import barrel_panel as barrel_panel
from .base import Panel as Panel
from .build_text import build_panel as build_panel
from .chronograph import chronograph_panel as chronograph_panel
from .compare import compare_panel as compare_panel
from .controls import Choice as Choice
from .controls import Control as Control
from .controls import Paste as Paste
from .explain import explain_panel as explain_panel
from .fit import ends_panel as ends_panel
from .fit import seal_panel as seal_panel
from .fit import strength_panel as strength_panel
from .group import group_panel as group_panel
from .losses import losses_panel as losses_panel
from .motion import motion_panel as motion_panel
from .progress import progress_bar as progress_bar
from .question import question_panel as question_panel
from .search import search_panel as search_panel
from .spring import scale_panel as scale_panel
from .spring import spring_panel as spring_panel
from .trajectory import trajectory_panel as trajectory_panel
from .tuning import tuning_panel as tuning_panel
from .unit_set import units_panel as units_panel
from .volume_ratio import volume_ratio_panel as volume_ratio_panel
from .wind import wind_panel as wind_panel
