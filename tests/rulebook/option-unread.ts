/** Options that neither point anywhere nor are of a known kind, each looked at: what it is, and why no law minds it. */
export const UNREAD: Readonly<Record<string, string>> = {};
