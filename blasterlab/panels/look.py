"""How panels look: one style sheet for all of them, and the label of a control with its help.

What it is for: columns that fit a phone, help that opens below its row, words that stay folded while pictures
are drawn anew, and pictures that are dark where the page is.  What it leaves out: the widgets themselves.

References
----------
W3C, *Web Content Accessibility Guidelines 2.2*, 2023, 1.4.3 (contrast), 1.4.10 (reflow), 2.1.1 (keyboard),
2.5.8 (size of what a finger presses).
W3C, *Selectors Level 4*, working draft 2022, 4.5 (`:has`), by which a fold outlives the words in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from blasterlab.figures.stored import DARK, INVERTED
from blasterlab.figures.stored import STYLE as STILL
from blasterlab.report.asked import too_long

PANEL, ROW, SIGHT, PICTURES, MORE = "bl-panel", "bl-row", "bl-sight", "bl-pictures", "bl-more"
#: Says a slider's label and, without the noise of its floats, its value, to who cannot see them.
_SAID = (
    "const p=this.closest('.bl-panel'),put=(x,k,v)=>x.getAttribute(k)===v||x.setAttribute(k,v),"
    "say=()=>p.querySelectorAll('.bl-row [role=slider]').forEach(x=>{"
    "const l=x.closest('.bl-row').querySelector('.widget-html-content>label')?.firstChild.data||'',"
    "u=/, ([^,]*)$/.exec(l),"
    "v=String(+parseFloat(x.getAttribute('aria-valuetext')).toPrecision(9));"
    "put(x,'aria-label',l);put(x,'aria-valuenow',v);put(x,'aria-valuetext',u?v+' '+u[1]:v)});"
    "if(p&&!p.said){p.said=new MutationObserver(say);p.said.observe(p,{subtree:true,childList:true,"
    "attributeFilter:['aria-valuetext']});say()}"
)
STYLE = (
    f'<style onload="{escape(_SAID)}">'
    + """
.jp-OutputArea:has(.bl-panel) .bl-last{display:none}
.bl-panel,.bl-panel .widget-box{overflow:visible;margin:0}
.bl-panel{container-type:inline-size}
.bl-grid{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(330px,100%),1fr));gap:4px 20px}
.bl-panel .widget-html-content{line-height:1.4}
.bl-row{display:flex;flex-flow:row wrap!important;align-items:center;gap:0 4px}
.bl-row>.widget-html:first-child,.bl-row>.widget-html:first-child>.widget-html-content{display:contents}
.bl-row label{flex:0 1 auto;width:132px;line-height:1.15;overflow-wrap:anywhere}
.bl-hand{display:flex;flex-flow:row wrap;align-items:center;gap:4px}
.bl-hand .bl-row{flex:1 1 200px}.bl-hand .bl-row label{width:auto}
.bl-row label small{display:block}
.bl-row .widget-dropdown{flex:1 1 auto;min-width:0}
.bl-row details{flex:none}
.bl-panel .widget-dropdown{min-width:0;flex-shrink:1}
.bl-row summary{display:inline-block;width:20px;height:20px;line-height:20px;text-align:center;
border:1px solid currentcolor;border-radius:50%;cursor:pointer;list-style:none;box-sizing:border-box;
font-size:12px;line-height:18px}
.bl-row summary::-webkit-details-marker{display:none}
.bl-help{display:none;order:9;flex:0 0 100%;box-sizing:border-box;padding:2px 0 6px 8px;
border-left:3px solid currentcolor}
.bl-row details[open]~.bl-help{display:block}
.bl-verdict{font-weight:bold;font-size:1.1em}
.bl-table{overflow-x:auto;font-size:12px}.bl-table td{padding:0 8px 2px 0;line-height:1.1;vertical-align:top}
.bl-pictures img:not(:only-of-type){width:auto!important;max-width:100%!important;max-height:29vh}
@container (max-width:679px){.bl-grid{display:block}
.bl-grid>:first-child,.bl-sight,.bl-sight>.widget-html-content{display:contents}
@media (min-height:600px){.bl-pictures{position:sticky;top:0;z-index:9}}
.bl-pictures{background:var(--jp-layout-color0,#fff)}.bl-pictures img{max-height:36vh;
width:auto!important;max-width:100%!important}
.bl-pictures img:not(:only-of-type){max-height:24vh}}
@container (min-width:500px) and (max-width:679px){
.bl-pictures img:not(:only-of-type){max-width:49%!important}}
:is(.jp-OutputArea,.jp-OutputArea-child,.jp-OutputArea-output):has(.bl-grid){overflow:visible}
@container (max-width:400px){.bl-row label{width:112px}.bl-row .widget-text{width:70px!important}
.bl-row .widget-hslider{min-width:54px!important}.bl-verdict{font-size:1em}}
@media (pointer:coarse){.bl-panel{--jp-widgets-slider-handle-size:24px}
.bl-row summary{width:24px;height:24px;line-height:22px}}
.bl-panel .jupyter-widget-Collapse-header{color:var(--jp-ui-font-color0,#000)}
.jp-OutputArea .jp-OutputArea-output pre{word-break:normal;overflow-wrap:anywhere}
.bl-rest{display:none}
.bl-panel:has(.bl-more[open]) .bl-rest{display:block}
.bl-panel:not(:has(.bl-rest)) .bl-more{display:none}
@supports not selector(:has(*)){.bl-rest{display:block}.bl-more{display:none}}
.bl-more summary{cursor:pointer}
"""
)
STYLE += f"""{DARK} .bl-panel select{{background-image:none;appearance:auto;color-scheme:dark}}
{DARK} .bl-panel :is(img,svg){INVERTED}
</style>{STILL}"""


def head(label: str, said: Sequence[str], echo: str = "") -> str:
    """A control's label with a title, what was typed, and the "?" that opens the help: HTML [-]."""
    words, named = escape(" ".join(said)), escape(label).replace(" ±", "\u00a0±")  # never alone on a line
    typed = f"<small>= {escape(echo)}</small>" if echo else ""
    shown = f'<label title="{words}">{named}{typed}</label>'
    if not words:
        return shown
    opener = f'<details><summary title="{words}" aria-label="About {named}">?</summary></details>'
    return f'{shown}{opener}<div class="bl-help">{words}</div>'


def guard(longest: int) -> str:
    """What keeps a paste of more characters out of a row's box before the page lays it out: HTML [-]."""
    script = (
        "const r=this.closest('.bl-row');r.onpaste=e=>{r.querySelector('.bl-refused')?.remove();"
        f"const n=e.clipboardData.getData('text').length;if(n>{longest}){{e.preventDefault();"
        "const d=document.createElement('div');d.setAttribute('role','alert');d.className='bl-refused';"
        f"d.textContent='{too_long(longest)}'.replace('N ',n+' ');r.append(d)}}}}"
    )
    return f'<style onload="{escape(script)}">.bl-refused{{flex:0 0 100%;order:9}}</style>'


def fold(words: str) -> str:
    """A line that opens what is folded in a panel, and closes it: HTML [-]."""
    return f'<details class="{MORE}"><summary>{words}</summary></details>'
