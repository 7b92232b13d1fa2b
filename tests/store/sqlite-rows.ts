import Database from 'better-sqlite3';

/** Rows of a SQLite file, read by nothing of ours. */
export function rowsOfSqlite(path: string, text: string): readonly Readonly<Record<string, unknown>>[] {
  const database = new Database(path, { readonly: true });
  try {
    return database.prepare(text).all() as readonly Readonly<Record<string, unknown>>[];
  } finally {
    database.close();
  }
}

/** Changes a SQLite file behind the back of whoever keeps it. */
export function execSqlite(path: string, text: string): void {
  const database = new Database(path);
  try {
    database.exec(text);
  } finally {
    database.close();
  }
}
