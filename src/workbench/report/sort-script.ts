/**
 * Makes the tables marked `sortable` sort by a click on a heading: the only script of a report, which says the same
 * without it. Numbers sort by `data-value`, everything else by its text.
 */
export const SORT_SCRIPT = `
for (const table of document.querySelectorAll('table.sortable')) {
  const heads = [...table.tHead.rows[0].cells];
  heads.forEach((head, column) => {
    const button = document.createElement('button');
    button.type = 'button';
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener('click', () => {
      const falling = head.getAttribute('aria-sort') === 'ascending';
      for (const other of heads) other.removeAttribute('aria-sort');
      head.setAttribute('aria-sort', falling ? 'descending' : 'ascending');
      const key = (row) => row.cells[column].dataset.value ?? row.cells[column].textContent.trim();
      const order = (a, b) => {
        const [x, y] = [key(a), key(b)];
        const numbers = x !== '' && y !== '' && !Number.isNaN(Number(x)) && !Number.isNaN(Number(y));
        return numbers ? Number(x) - Number(y) : x < y ? -1 : x > y ? 1 : 0;
      };
      const rows = [...table.tBodies[0].rows].sort(order);
      table.tBodies[0].append(...(falling ? rows.reverse() : rows));
    });
  });
}
`;
