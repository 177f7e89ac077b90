// Everything runs in the browser, from the local database first.
export const ssr = false;
export const prerender = false;
