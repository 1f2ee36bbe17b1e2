/** The seed of this test run, from the environment; set by global-setup.ts. */
export const TEST_SEED = Number(process.env["TEST_SEED"] ?? "1");
