-- Wordy tables within the memory are texts from here on; an older memory, with tables in their places, stays readable.
-- No table changes: the number keeps programs away that cannot read it.
SELECT 1;
