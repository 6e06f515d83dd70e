const form = this.closest('.ow-form');
const guard = () => {
  form.querySelectorAll('button, select, input').forEach(element => {
    element.dataset.lmSuppressShortcuts = 'true';
  });
  form.querySelectorAll('.widget-toggle-buttons').forEach(group => {
    group.role = 'group';
    group.ariaLabel = group.querySelector('label').textContent;
  });
  form.querySelectorAll('.widget-toggle-button').forEach(button => {
    button.ariaPressed = button.classList.contains('mod-active');
  });
  form.querySelectorAll('.ow-status').forEach(line => {
    line.ariaLive = 'polite';
  });
};
guard();
new MutationObserver(guard).observe(form, {
  childList: true, subtree: true, attributes: true, attributeFilter: ['class']
});
form.addEventListener('click', event => {
  if (event.target.closest('.ow-another')) form.scrollIntoView();
  const point = event.target.closest('.ow-point');
  const lead = form.querySelector('.ow-hand .mod-active').textContent.trim().slice(-1);
  const list = form.querySelector(`.ow-lead-${lead.toLowerCase()} select`);
  if (!point || event.detail > 1 || list.disabled) return;
  const at = [...list.options].findIndex(
    option => option.text.split(/\s/)[0] === point.dataset.place
  );
  if (at < 0) return;
  list.selectedIndex = at;
  list.dispatchEvent(new Event('change', { bubbles: true }));
});
