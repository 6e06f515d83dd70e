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
