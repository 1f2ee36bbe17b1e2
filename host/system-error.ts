// What the operating system says of a file, in words.

const REASONS: Readonly<Record<string, string>> = {
  EACCES: "permission denied",
  EPERM: "permission denied",
  ENOENT: "there is no such file or folder",
  ENOTDIR: "a part of the path is a file, not a folder",
  EISDIR: "it is a folder, a file is needed",
  EEXIST: "a file is in the way",
  ENOSPC: "no space is left on the disk",
  EDQUOT: "the quota of the disk is used up",
  EROFS: "the disk may be read only",
  ELOOP: "links lead in a circle",
  ENAMETOOLONG: "the name is too long",
  EMFILE: "too many files are open",
  EIO: "the disk fails",
  ERR_FS_FILE_TOO_LARGE: "the file is too large",
};

/** The reason that a code stands for, the code itself where it has no words. */
export function systemReason(code: string | undefined): string {
  return code === undefined ? "for an unknown reason" : (REASONS[code] ?? code);
}

/** An error of the operating system about a file; undefined where it is another kind of error. */
export function systemComplaint(error: unknown): string | undefined {
  if (!(error instanceof Error)) return undefined;
  const { code, syscall, path } = error as NodeJS.ErrnoException;
  if (code === undefined || syscall === undefined) return undefined;
  const what = syscall === "write" ? "cannot be written" : "cannot be used";
  return `${path ?? "a file"}: ${what} (${systemReason(code)})`;
}
